package study

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
)

// Allowed is what a series may hold besides its errors: laws of drift, and the temperature
// and the cycles, on which the tilt depends linearly.
type Allowed struct {
	Laws                []Law
	Temperature, Cycles bool
}

// Everything allows every law, and each influence that all points state and that changes.
func Everything(points []Point) Allowed {
	a := Allowed{Laws: []Law{Constant, Creep, Settling, PowerLaw}}
	if len(points) == 0 {
		return a
	}
	s := series{points: points}
	_, err := s.known("temperature", temperature)
	a.Temperature = err == nil
	_, err = s.known("count of cycles", cycles)
	a.Cycles = err == nil
	return a
}

// Say names what is allowed for.
func (a Allowed) Say() string {
	said := "drift by any law"
	if len(a.Laws) == 1 {
		said = a.Laws[0].String()
	}
	if a.Temperature {
		said += ", temperature"
	}
	if a.Cycles {
		said += ", cycles"
	}
	return said + " and errors that are alike in neighbours"
}

// explanation is one way in which a series may have come about: a law with its nonlinear
// parameter, influences, and a correlation of neighbouring errors. Its linear coefficients
// and the size of the errors are unknown, with flat priors (of the logarithm for the size);
// so are the logarithm of a time constant and an exponent.
type explanation struct {
	law      Law
	theta    float64
	spread   float64 // of the law's shape over the points: its column is divided by this
	rho      float64 // correlation of neighbours
	white    whitener
	basis    basis
	y        []float64 // whitened
	rss      float64   // of the residuals
	prior    float64   // log
	shapeRow int       // place of the law's column, -1 if it has none
	step     tried     // one more column, outside the basis
}

// tried is a step that is tried beside the columns of an explanation: its size, the standard
// deviation of it for errors of 1, and the logarithm of the length that its column adds.
type tried struct {
	is                 bool
	arcmin, sd, volume float64
}

// explanations returns every way in which the points may have come about that they
// determine. steps are further columns, which come last.
func (s series) explanations(allowed Allowed, steps ...[]float64) ([]explanation, error) {
	if len(allowed.Laws) == 0 {
		return nil, fmt.Errorf("study: a step looks like a drift: say which laws of drift are allowed for")
	}
	columns := [][]float64{ones(len(s.days))}
	for _, influence := range []struct {
		on   bool
		what string
		of   func(Point) *float64
	}{{allowed.Temperature, "temperature", temperature}, {allowed.Cycles, "count of cycles", cycles}} {
		if !influence.on {
			continue
		}
		column, err := s.known(influence.what, influence.of)
		if err != nil {
			return nil, err
		}
		columns = append(columns, column)
	}
	shapes := map[Law][]shape{}
	for _, law := range allowed.Laws {
		shapes[law] = s.shapes(law)
	}
	var all []explanation
	for _, rho := range correlations {
		e := explanation{rho: rho, white: s.whitener(rho), shapeRow: -1}
		e.y = e.white.of(s.arcmin)
		determined := true
		for _, column := range columns {
			if e.basis, determined = e.basis.with(e.white.of(column)); !determined {
				return nil, fmt.Errorf("study: temperature or cycles do not change, and so explain nothing: %w", ErrUndetermined)
			}
		}
		for _, law := range allowed.Laws {
			for _, shape := range shapes[law] {
				if next, ok := e.with(law, shape, steps); ok {
					next.prior = math.Log(prior(rho) / float64(len(shapes[law])))
					all = append(all, next)
				}
			}
		}
	}
	if len(all) == 0 {
		return nil, fmt.Errorf("study: %d points: %w", len(s.days), ErrUndetermined)
	}
	return all, nil
}

// shape is the course of a law with one value of its nonlinear parameter, over the points,
// divided by its range. The constant law has none.
type shape struct {
	theta, spread float64
	values        []float64
}

// shapes returns the candidates of a law's shape that the points distinguish from a constant:
// time constants from the usual gap to five times the span of the points, evenly in their
// logarithm; exponents of a creep that slows down.
func (s series) shapes(law Law) []shape {
	if law == Constant {
		return []shape{{}}
	}
	var all []shape
	for _, theta := range s.thetas(law) {
		values := make([]float64, len(s.days))
		for i, days := range s.days {
			values[i] = curves[law].shape(days, theta)
		}
		spread := rangeOf(values)
		if !(spread > 0) {
			continue
		}
		for i := range values {
			values[i] /= spread
		}
		all = append(all, shape{theta, spread, values})
	}
	return all
}

func (s series) thetas(law Law) []float64 {
	var all []float64
	first, last := s.days[0], s.days[len(s.days)-1]
	switch {
	case !curves[law].nonlinear:
		return []float64{0}
	case first < 0 || last == first:
		return nil
	case law == PowerLaw:
		for n := 0.1; n < 0.95; n += 0.1 {
			all = append(all, n)
		}
		return all
	}
	const each = 1.4
	for tau := max(s.usualGap(), (last-first)/1000); tau < 5*(last-first); tau *= each {
		all = append(all, tau)
	}
	return all
}

// with adds a law and further columns; false if the points do not determine them.
func (e explanation) with(law Law, of shape, further [][]float64) (explanation, bool) {
	e.law, e.theta, e.spread = law, of.theta, of.spread
	if of.values != nil {
		e.shapeRow = len(e.basis.q)
		further = append([][]float64{of.values}, further...)
	}
	for _, column := range further {
		var determined bool
		if e.basis, determined = e.basis.with(e.white.of(column)); !determined {
			return e, false
		}
	}
	left := e.basis.rest(e.y)
	e.rss = dot(left, left)
	return e, e.dof() >= 1
}

func (e explanation) coefficients() int {
	if e.step.is {
		return len(e.basis.q) + 1
	}
	return len(e.basis.q)
}

func (e explanation) dof() float64 { return float64(len(e.y) - e.coefficients()) }

// evidence is the logarithm of the likelihood of the points with the coefficients and the
// size of the errors integrated out (restricted likelihood; Patterson and Thompson 1971,
// from memory), times the prior.
func (e explanation) evidence() float64 {
	return e.prior - e.white.logVolume/2 - e.basis.logVolume - e.step.volume - misfit(e.rss, e.dof())
}

// misfit is minus the logarithm of the likelihood of a sum of squared residuals, their size
// being unknown.
func misfit(rss, dof float64) float64 {
	return dof / 2 * math.Log(max(rss, math.SmallestNonzeroFloat64)/dof)
}

// akaike is minus half of AICc (Hurvich and Tsai 1989, from memory), apart from constants. It
// counts the coefficients, a nonlinear parameter, the size of the errors and their
// correlation.
func (e explanation) akaike() float64 {
	n, k := float64(len(e.y)), float64(e.coefficients()+2)
	if curves[e.law].nonlinear {
		k++
	}
	return -e.white.logVolume/2 - misfit(e.rss, n) - k - k*(k+1)/max(1, n-k-1)
}

// negligible is the share of the greatest weight below which an explanation is left out.
const negligible = 1e-5

// belief weighs a quantity over all explanations: within a law by the evidence, between laws
// by their Akaike weights (Burnham and Anderson 2002, from memory).
func belief(all []explanation, quantity func(explanation) (value, sd float64)) mixture {
	return weighed(all, weightsOf(all), quantity)
}

// weighed is belief with weights that are known.
func weighed(all []explanation, weights []float64, quantity func(explanation) (value, sd float64)) mixture {
	least := negligible * slices.Max(weights)
	var m mixture
	for i, e := range all {
		if weights[i] < least {
			continue
		}
		value, sd := quantity(e)
		m = append(m, share{weights[i], value, sd * math.Sqrt(e.rss/e.dof()), e.dof()})
	}
	return m
}

// together is the logarithm of the evidence of all explanations. It compares steps at several
// points, not laws.
func together(all []explanation) float64 {
	evidence := make([]float64, len(all))
	for i, e := range all {
		evidence[i] = e.evidence()
	}
	return floats.LogSumExp(evidence)
}

// correlationOf is the mean correlation of neighbours over all explanations.
func correlationOf(all []explanation, weights []float64) float64 {
	sum := 0.0
	for i, weight := range weights {
		sum += weight * all[i].rho
	}
	return sum
}

// weightsOf returns the probability of each explanation.
func weightsOf(all []explanation) []float64 {
	evidence := make([]float64, len(all))
	var laws [PowerLaw + 1]lawWeight
	for i := range laws {
		laws[i] = lawWeight{best: math.Inf(-1), most: math.Inf(-1)}
	}
	best := math.Inf(-1)
	for i, e := range all {
		evidence[i] = e.evidence()
		l := &laws[e.law]
		l.best, l.most = max(l.best, e.akaike()), max(l.most, evidence[i])
		best = max(best, l.best)
	}
	weights := make([]float64, len(all))
	for i, e := range all {
		weights[i] = math.Exp(evidence[i] - laws[e.law].most)
		laws[e.law].sum += weights[i]
	}
	total := 0.0
	for _, l := range laws {
		total += math.Exp(l.best - best)
	}
	for i, e := range all {
		l := laws[e.law]
		weights[i] *= math.Exp(l.best-best) / l.sum / total
	}
	return weights
}

// lawWeight is the weight of a law: the greatest likelihood of its explanations, their greatest
// evidence, and the sum of their evidence in units of that.
type lawWeight struct{ best, most, sum float64 }

func ones(n int) []float64 { return slices.Repeat([]float64{1}, n) }
