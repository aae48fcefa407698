package study

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/optimize"
)

// bounds returns the range of the nonlinear parameter: a time constant that the points
// can determine, or an exponent between nearly a logarithm and an eighth power.
func (p problem) bounds() (low, high float64) {
	if p.law.name == "n" {
		return 0.02, 8
	}
	first, last := math.Inf(1), p.days[len(p.days)-1]
	for _, days := range p.days {
		if days > 0 {
			first = min(first, days)
		}
	}
	return first / 5, 20 * last
}

// search finds the nonlinear parameter: a grid in its logarithm, the simplex method from
// the three lowest minima, then Gauss-Newton to the last digits.
func (p problem) search() (float64, error) {
	low, high := p.bounds()
	if !(low < high) || math.IsInf(low, 1) {
		return 0, ErrUndetermined
	}
	cost := func(logTheta float64) float64 {
		if _, chi2, err := p.at(math.Exp(logTheta)).solve(p.y, p.sd); err == nil {
			return chi2
		}
		return math.MaxFloat64
	}
	best, lowest := 0.0, math.Inf(1)
	for _, start := range valleys(cost, math.Log(low), math.Log(high)) {
		found, err := optimize.Minimize(optimize.Problem{Func: func(x []float64) float64 { return cost(x[0]) }}, []float64{start},
			&optimize.Settings{Converger: &optimize.FunctionConverge{Relative: 1e-9, Iterations: 12}, FuncEvaluations: 400}, &optimize.NelderMead{SimplexSize: 0.05})
		if err == nil && found.F < lowest {
			best, lowest = found.X[0], found.F
		}
	}
	if !(best > math.Log(low) && best < math.Log(high)) || lowest >= math.MaxFloat64 {
		return 0, fmt.Errorf("%s has no best value between %.3g and %.3g: %w", p.law.name, low, high, ErrUndetermined)
	}
	return p.polish(math.Exp(best)), nil
}

// valleys returns up to three lowest points of a grid that are below both neighbours.
func valleys(cost func(float64) float64, low, high float64) []float64 {
	const points = 60
	at, value := make([]float64, points+1), make([]float64, points+1)
	for i := range at {
		at[i] = low + (high-low)*float64(i)/points
		value[i] = cost(at[i])
	}
	var order []int
	for i := range at {
		if (i == 0 || value[i] <= value[i-1]) && (i == points || value[i] <= value[i+1]) {
			order = append(order, i)
		}
	}
	slices.SortFunc(order, func(a, b int) int {
		if value[a] < value[b] {
			return -1
		}
		return 1
	})
	var starts []float64
	for _, i := range order[:min(3, len(order))] {
		starts = append(starts, at[i])
	}
	return starts
}

// polish makes Gauss-Newton steps while they reduce chi-squared.
func (p problem) polish(theta float64) float64 {
	linear, chi2, err := p.at(theta).solve(p.y, p.sd)
	for range 30 {
		if err != nil {
			return theta
		}
		step, _, failed := p.jacobian(theta, linear).solve(p.at(theta).residuals(linear, p.y), p.sd)
		if failed != nil {
			return theta
		}
		next := theta + step[len(step)-1]
		better, lower, failed := p.at(next).solve(p.y, p.sd)
		if failed != nil || !(next > 0) || lower > chi2*(1+1e-14) {
			return theta
		}
		if math.Abs(next-theta) < 1e-14*theta {
			return next
		}
		theta, linear, chi2 = next, better, lower
	}
	return theta
}
