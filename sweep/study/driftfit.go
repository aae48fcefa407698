package study

import (
	"fmt"
	"math"
	"slices"
)

// problem is a model with its points. Its linear part is solved directly for any value of
// the one nonlinear parameter (separable least squares, Golub and Pereyra 1973).
type problem struct {
	series
	law   curve
	y     []float64 // minus a fixed offset
	other columns   // ones, temperature, cycles
	names []Param   // of the linear coefficients, b after a
}

// FitDrift fits one model by weighted least squares. The points may have any order and
// any times; Settling and PowerLaw count days from zero, so none may be negative. It
// needs at least three more points than parameters.
func FitDrift(points []Point, model Model) (Fit, error) {
	p, fit, err := pose(points, model)
	if err != nil {
		return Fit{}, err
	}
	theta := 0.0
	if p.law.nonlinear {
		if theta, err = p.search(); err != nil {
			return Fit{}, fmt.Errorf("study: %s: %w", model, err)
		}
	}
	linear, chi2, err := p.at(theta).solve(p.y, p.sd)
	if err != nil {
		return Fit{}, fmt.Errorf("study: %s: %w", model, err)
	}
	jacobian := p.jacobian(theta, linear)
	covariance, err := jacobian.covariance(p.sd)
	if err != nil {
		return Fit{}, fmt.Errorf("study: %s: %w", model, err)
	}
	fit.judge(p, chi2, p.at(theta).residuals(linear, p.y))
	values := linear
	if p.law.nonlinear {
		values = append(slices.Clone(linear), theta)
		p.names = append(p.names, Param{Name: p.law.name, Unit: p.law.unit})
	}
	for i, name := range p.names {
		fit.Params = append(fit.Params, Param{name.Name, name.Unit, values[i], math.Sqrt(fit.Scale * fit.Scale * covariance.At(i, i))})
	}
	return fit, nil
}

// pose checks the points and sets up the problem.
func pose(points []Point, model Model) (p problem, fit Fit, err error) {
	if p.series, err = inOrder(points); err != nil {
		return p, fit, err
	}
	p.law = curves[model.Law]
	fit = Fit{Model: model, N: len(points), law: p.law}
	if model.Law < Constant || model.Law > PowerLaw {
		return p, fit, fmt.Errorf("study: no law %v", model.Law)
	}
	p.y = slices.Clone(p.arcmin)
	if model.OffsetArcmin == nil {
		p.add("a", "arcmin", ones(len(points)))
	} else {
		for i := range p.y {
			p.y[i] -= *model.OffsetArcmin
		}
	}
	if model.Law != Constant {
		p.names = append(p.names, Param{Name: "b", Unit: amplitude[model.Law]})
	}
	count := len(p.names)
	if p.law.nonlinear {
		count++
	}
	if model.Temperature {
		column, err := p.known("temperature", temperature)
		if err != nil {
			return p, fit, err
		}
		p.add("temperature", "arcmin/C", column)
		count++
	}
	if model.Cycles {
		column, err := p.known("count of cycles", cycles)
		if err != nil {
			return p, fit, err
		}
		p.add("cycles", "arcmin/cycle", column)
		count++
	}
	for _, from := range model.ShiftDays {
		p.add(fmt.Sprintf("shift at day %.4g", from), "arcmin", p.stepAt(p.firstFrom(from)))
		count++
	}
	switch {
	case count == 0:
		return p, fit, fmt.Errorf("study: %s with a fixed offset leaves nothing to fit", model)
	case len(points) < count+3:
		return p, fit, fmt.Errorf("study: %s needs %d points, there are %d: %w", model, count+3, len(points), ErrUndetermined)
	case p.law.nonlinear && p.days[0] < 0:
		return p, fit, fmt.Errorf("study: %s counts days from zero, a point is at day %v", model, p.days[0])
	}
	fit.DOF = len(points) - count
	return p, fit, nil
}

func (p *problem) add(name, unit string, column []float64) {
	p.other = append(p.other, column)
	p.names = append(p.names, Param{Name: name, Unit: unit})
}

// at returns the linear columns for one value of the nonlinear parameter, in the order of
// names.
func (p problem) at(theta float64) columns {
	if p.law.shape == nil {
		return p.other
	}
	shape := make([]float64, len(p.days))
	for i, days := range p.days {
		shape[i] = p.law.shape(days, theta)
	}
	place := slices.IndexFunc(p.names, func(n Param) bool { return n.Name == "b" })
	return slices.Insert(slices.Clone(p.other), place, shape)
}

// jacobian adds the column of the nonlinear parameter, last.
func (p problem) jacobian(theta float64, linear []float64) columns {
	all := p.at(theta)
	if !p.law.nonlinear {
		return all
	}
	b := linear[slices.IndexFunc(p.names, func(n Param) bool { return n.Name == "b" })]
	slope := make([]float64, len(p.days))
	for i, days := range p.days {
		slope[i] = b * p.law.slope(days, theta)
	}
	return append(all, slope)
}

// judge sets the fields that depend on the residuals.
func (f *Fit) judge(p problem, chi2 float64, residuals []float64) {
	n := float64(f.N)
	f.ChiSquared = chi2
	f.Stated = p.stated
	f.Scale = scatter(chi2, f.DOF, p.stated)
	k := n - float64(f.DOF) + 1
	f.AICc = n*math.Log(math.Max(chi2, math.SmallestNonzeroFloat64)/n) + 2*k + 2*k*(k+1)/(n-k-1)

	var neighbours, all float64
	for i, r := range residuals {
		all += square(r / p.sd[i])
		if i > 0 {
			neighbours += r / p.sd[i] * residuals[i-1] / p.sd[i-1]
		}
	}
	if all > 0 {
		f.Lag1 = neighbours / all
	}
	f.Lag1Bound = 1.96 / math.Sqrt(n)
}
