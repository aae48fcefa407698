package study

import (
	"fmt"
	"math"
	"slices"
)

// Shift is a change of level in a series at an unknown instant, between two points. Index is
// the first point at the new level. Days and DaysSD are the mean and standard deviation of its
// time, each gap weighted by its length and evidence. Errors that are alike might have displaced
// the shift, so that DaysSD is too wide for errors that are not.
type Shift struct {
	Index                 int
	AfterDays, BeforeDays float64
	Days, DaysSD          float64
	SizeArcmin, SDArcmin  float64
}

// mostShifts is the most shifts that are searched for.
const mostShifts = 12

// byChance is about the probability of a false alarm in a whole series of independent errors: a
// shift counts if its chance, times the number of instants at which one was tried, is below it.
// Errors that are alike make the chance too small, since their correlation is itself uncertain:
// it must then be smaller, in proportion to 1 - correlation. Set by trial, on heads and noises of
// the kinds that a test measures with other seeds.
const byChance = 0.024

// Shifts finds changes of level at unknown instants. Each is fitted together with the allowed
// influences and with the shifts found before, and the strongest is taken until chance explains
// the rest. A level has at least three points. A shift at the limit
// of detection appears larger than it is, since smaller ones are not found.
func Shifts(points []Point, allowed Allowed) ([]Shift, error) {
	s, err := inOrder(points)
	if err != nil {
		return nil, err
	}
	if len(points) < 2*fewest {
		return nil, fmt.Errorf("study: shifts among %d points: at least %d are needed: %w", len(points), 2*fewest, ErrUndetermined)
	}
	var cuts []int
	for len(cuts) < mostShifts {
		scan, err := s.scan(allowed, cuts)
		if err != nil {
			return nil, err
		}
		best, found := scan.strongest(0, len(points))
		if !found || scan[best].size.either() >= byChance*(1-scan[best].correlation)/float64(len(points)) {
			break
		}
		cuts = append(cuts, best)
		slices.Sort(cuts)
	}
	return s.shifts(allowed, cuts)
}

// shifts describes the shifts at some instants, each moved to its best instant beside the others.
func (s series) shifts(allowed Allowed, cuts []int) ([]Shift, error) {
	var found []Shift
	for i := range cuts {
		others := slices.Delete(slices.Clone(cuts), i, i+1)
		scan, err := s.scan(allowed, others)
		if err != nil {
			return nil, err
		}
		from, until := 0, len(s.days)
		if i > 0 {
			from = cuts[i-1]
		}
		if i+1 < len(cuts) {
			until = cuts[i+1]
		}
		best, ok := scan.strongest(from, until)
		if !ok {
			continue
		}
		cuts[i] = best
		shift := Shift{Index: best, AfterDays: s.days[best-1], BeforeDays: s.days[best],
			SizeArcmin: scan[best].size.mean(), SDArcmin: scan[best].size.sd()}
		shift.Days, shift.DaysSD = scan.time(s.days, best, from, until)
		found = append(found, shift)
	}
	return found, nil
}

// scan holds a candidate for each point that may be the first at a new level, nil for the
// others.
type scan []*candidate

// candidate is a step at one point: what is believed of its size, the evidence for it, in
// logarithm, and the correlation of neighbours beside it.
type candidate struct {
	size                  mixture
	evidence, correlation float64
}

// scan tries a step before each point that leaves enough points on both sides, between the
// cuts found before.
func (s series) scan(allowed Allowed, cuts []int) (scan, error) {
	var steps [][]float64
	for _, cut := range cuts {
		steps = append(steps, s.stepAt(cut))
	}
	all, err := s.explanations(allowed, steps...)
	if err != nil {
		return nil, err
	}
	steppers := make([]stepper, len(all))
	for i, e := range all {
		steppers[i] = newStepper(e)
	}
	found, tries := make(scan, len(s.days)), make([]explanation, 0, len(all))
	edges := append(append([]int{0}, cuts...), len(s.days))
	for i := 1; i < len(edges); i++ {
		for at := edges[i-1] + fewest; at <= edges[i]-fewest; at++ {
			tries = tries[:0]
			for j := range steppers {
				if with, ok := steppers[j].step(at); ok {
					tries = append(tries, with)
				}
			}
			if len(tries) > 0 {
				weights := weightsOf(tries)
				size := weighed(tries, weights, func(e explanation) (value, sd float64) { return e.step.arcmin, e.step.sd })
				found[at] = &candidate{size, together(tries), correlationOf(tries, weights)}
			}
		}
	}
	return found, nil
}

// stepper adds a step at any point to an explanation, in a time that does not depend on the
// number of points: the products of a step with other columns are sums to the end.
type stepper struct {
	explanation
	first, later []float64 // the whitened step: at its first point, and after it
	square       []float64 // sum of later^2 from a point on
	left         []float64 // sum of later times the residuals
	columns      [][]float64
	residual     []float64
}

func newStepper(e explanation) stepper {
	n := len(e.y)
	t := stepper{explanation: e, first: make([]float64, n), later: make([]float64, n), square: make([]float64, n+1), residual: e.basis.rest(e.y)}
	for i := range n {
		t.first[i] = 1 / e.white.sd[i] / e.white.left[i]
		if i > 0 {
			t.later[i] = (1/e.white.sd[i] - e.white.rho[i]/e.white.sd[i-1]) / e.white.left[i]
		}
	}
	for i := n - 1; i >= 0; i-- {
		t.square[i] = t.square[i+1] + square(t.later[i])
	}
	t.left = t.toEnd(t.residual)
	for _, q := range e.basis.q {
		t.columns = append(t.columns, t.toEnd(q))
	}
	return t
}

// toEnd returns the sums of a column times the later part of a step, from each point on.
func (t stepper) toEnd(column []float64) []float64 {
	sums := make([]float64, len(column)+1)
	for i := len(column) - 1; i >= 0; i-- {
		sums[i] = sums[i+1] + t.later[i]*column[i]
	}
	return sums
}

// step returns the explanation with a step before a point; false if it depends on the other
// columns.
func (t *stepper) step(at int) (explanation, bool) {
	length := square(t.first[at]) + t.square[at+1]
	rest := length
	for j, q := range t.basis.q {
		rest -= square(t.first[at]*q[at] + t.columns[j][at+1])
	}
	if !(rest > 1e-9*length) || t.dof() < 2 {
		return explanation{}, false
	}
	e := t.explanation
	e.step = tried{true, (t.first[at]*t.residual[at] + t.left[at+1]) / rest, 1 / math.Sqrt(rest), math.Log(rest) / 2}
	e.rss = max(0, e.rss-square(e.step.arcmin)*rest)
	return e, true
}

// strongest returns the point with the most evidence between two others.
func (c scan) strongest(from, until int) (best int, found bool) {
	most := math.Inf(-1)
	for at := from + 1; at < until; at++ {
		if tried := c[at]; tried != nil && tried.evidence > most {
			best, most, found = at, tried.evidence, true
		}
	}
	return best, found
}

// time returns the mean and the standard deviation of the instant of a shift.
func (c scan) time(days []float64, best, from, until int) (at, sd float64) {
	var sum, first, second float64
	for place := from + 1; place < until; place++ {
		tried := c[place]
		if tried == nil {
			continue
		}
		gap, middle := days[place]-days[place-1], (days[place]+days[place-1])/2-days[best]
		likely := gap * math.Exp(tried.evidence-c[best].evidence)
		sum += likely
		first += likely * middle
		second += likely * (middle*middle + gap*gap/12)
	}
	if !(sum > 0) { // the points beside the cut have the same time
		return days[best], 0
	}
	return days[best] + first/sum, math.Sqrt(math.Max(0, second/sum-square(first/sum)))
}

// Say returns the shift in words.
func (s Shift) Say() string {
	return fmt.Sprintf("A shift of %+.2g' ±%.2g' (95 %%) between day %.4g and day %.4g.", s.SizeArcmin, 2*s.SDArcmin, s.AfterDays, s.BeforeDays)
}
