package study

import (
	"fmt"
	"math"
	"slices"
)

// Outlook is what a series lets expect of the tilt after its last point, under all laws
// together: each counts by its Akaike weight, and within it each time constant or exponent by
// its evidence. It holds only as far as FarthestDays, and as long as one of the laws holds.
type Outlook struct {
	FirstDays, LastDays, FarthestDays float64
	// Why is the reason for FarthestDays, in words.
	Why     string
	Allowed Allowed

	series
	all    []explanation
	weight []float64 // of each explanation
	end    []float64 // the influences at the end, less those at the first point
	at     []float64 // the influences at the end
	shifts []float64 // the days from which on the level is another
}

// A forecast reaches at most three times the span of the points from the first one on, or
// one and a half times if the best law settles with a time constant that they do not bound.
const (
	farthestSpans   = 3
	unsettledSpans  = 1.5
	boundedWithin   = 3 // factor from the median of the time constant to its 95 % limits
	unboundedReason = "the points do not bound the time constant, so that nothing is told beyond half their span"
	farthestReason  = "nothing is told beyond twice the span of the points"
)

// Foresee prepares forecasts from a series with the shifts that were found in it. Temperature
// counts as its mean, cycles as at the last point; no further shift is expected.
func Foresee(points []Point, allowed Allowed, shifts ...Shift) (Outlook, error) {
	s, err := inOrder(points)
	if err != nil {
		return Outlook{}, err
	}
	if len(points) < 2*fewest {
		return Outlook{}, fmt.Errorf("study: a forecast from %d points: at least %d are needed: %w", len(points), 2*fewest, ErrUndetermined)
	}
	o := Outlook{FirstDays: s.days[0], LastDays: s.days[len(s.days)-1], Allowed: allowed, series: s}
	var steps [][]float64
	for _, shift := range shifts {
		steps, o.shifts = append(steps, s.stepAt(shift.Index)), append(o.shifts, shift.BeforeDays)
	}
	if o.all, err = s.explanations(allowed, steps...); err != nil {
		return Outlook{}, err
	}
	o.weight = weightsOf(o.all)
	if allowed.Temperature {
		o.at, o.end = append(o.at, 0), append(o.end, 0)
	}
	if allowed.Cycles {
		column, err := s.known("count of cycles", cycles)
		if err != nil {
			return Outlook{}, err
		}
		last := column[len(column)-1]
		o.at, o.end = append(o.at, last), append(o.end, last-column[0])
	}
	spans := float64(farthestSpans)
	o.Why = farthestReason
	if !o.bounded() {
		spans, o.Why = unsettledSpans, unboundedReason
	}
	o.FarthestDays = o.FirstDays + spans*(o.LastDays-o.FirstDays)
	return o, nil
}

// bounded reports whether the best law needs no time constant, or the points bound it.
func (o Outlook) bounded() bool {
	laws, taus := map[Law]float64{}, map[float64]float64{}
	for i, e := range o.all {
		laws[e.law] += o.weight[i]
		if e.law == Settling {
			taus[e.theta] += o.weight[i]
		}
	}
	for _, weight := range laws {
		if weight > laws[Settling] {
			return true
		}
	}
	var thetas []float64
	for tau := range taus {
		thetas = append(thetas, tau)
	}
	slices.Sort(thetas)
	below := func(p float64) float64 {
		sum := 0.0
		for _, tau := range thetas {
			if sum += taus[tau]; sum >= p*laws[Settling] {
				return tau
			}
		}
		return thetas[len(thetas)-1]
	}
	low, middle, high := below(0.025), below(0.5), below(0.975)
	return high < thetas[len(thetas)-1] && middle/low <= boundedWithin && high/middle <= boundedWithin
}

// Prediction is what is believed of a tilt, or of a change of it.
type Prediction struct {
	Days, Arcmin, SDArcmin float64
	Interval               Interval // 95 %
}

// At predicts the tilt at a time.
func (o Outlook) At(days float64) Prediction { return predicted(days, o.tilt(days)) }

// Change predicts the tilt at a time less that at the first point.
func (o Outlook) Change(days float64) Prediction { return predicted(days, o.change(days)) }

func predicted(days float64, m mixture) Prediction {
	return Prediction{Days: days, Arcmin: m.mean(), SDArcmin: m.sd(), Interval: m.interval()}
}

func (o Outlook) tilt(days float64) mixture {
	return weighed(o.all, o.weight, func(e explanation) (value, sd float64) {
		of := o.shifted(e, days)
		of[0] = 1
		copy(of[1:], o.at)
		if e.shapeRow >= 0 {
			of[e.shapeRow] = curves[e.law].shape(days, e.theta) / e.spread
		}
		return e.basis.combination(of, e.y)
	})
}

func (o Outlook) change(days float64) mixture {
	return weighed(o.all, o.weight, func(e explanation) (value, sd float64) {
		of := o.shifted(e, days)
		copy(of[1:], o.end)
		if e.shapeRow >= 0 {
			shape := curves[e.law].shape
			of[e.shapeRow] = (shape(days, e.theta) - shape(o.FirstDays, e.theta)) / e.spread
		}
		return e.basis.combination(of, e.y)
	})
}

// shifted returns coefficients that are zero, except for the shifts before a time, which come
// last.
func (o Outlook) shifted(e explanation, days float64) []float64 {
	of := make([]float64, e.coefficients())
	for i, from := range o.shifts {
		if days >= from {
			of[len(of)-len(o.shifts)+i] = 1
		}
	}
	return of
}

// Moment is a time if it is Known; if not, it is beyond the range searched.
type Moment struct {
	Known bool
	Days  float64
}

// Leaving is the time at which a tilt leaves a tolerance: Middle by the expected tilt. Earliest
// and Latest are the 95 % bounds: the tilt may be beyond a limit, or is beyond one.
type Leaving struct {
	Middle, Earliest, Latest Moment
	Above                    bool // by which limit it leaves
	FromDays, UntilDays      float64
	Why                      string // why it is not told beyond UntilDays; empty if nobody asked
}

// LeavesTolerance searches from the last point to untilDays, or as far as the outlook reaches,
// for the time at which the tilt differs by more than the limit from the reference; nil means
// the tilt at the first point.
func (o Outlook) LeavesTolerance(referenceArcmin *float64, limitArcmin, untilDays float64) (Leaving, error) {
	if !(limitArcmin > 0) || !(untilDays > o.LastDays) || math.IsInf(untilDays, 1) || referenceArcmin != nil && math.IsNaN(*referenceArcmin) {
		return Leaving{}, fmt.Errorf("study: a tolerance of %v' until day %v, the last point being at day %v", limitArcmin, untilDays, o.LastDays)
	}
	off := o.change
	if referenceArcmin != nil {
		off = func(days float64) mixture {
			m := o.tilt(days)
			for i := range m {
				m[i].mean -= *referenceArcmin
			}
			return m
		}
	}
	l := Leaving{FromDays: o.LastDays, UntilDays: untilDays}
	if untilDays > o.FarthestDays {
		l.UntilDays, l.Why = o.FarthestDays, o.Why
	}
	first := func(out func(mixture) bool) Moment {
		return firstTime(l.FromDays, l.UntilDays, func(days float64) bool { return out(off(days)) })
	}
	const tail = 0.025
	l.Middle = first(func(m mixture) bool { return math.Abs(m.mean()) > limitArcmin })
	l.Earliest = first(func(m mixture) bool { return m.below(-limitArcmin) > tail || 1-m.below(limitArcmin) > tail })
	l.Latest = first(func(m mixture) bool { return m.below(-limitArcmin) > 1-tail || 1-m.below(limitArcmin) > 1-tail })
	l.Above = l.Middle.Known && off(l.Middle.Days).mean() > 0
	return l, nil
}

// firstTime returns when holds first becomes true, by two hundred looks and bisection.
func firstTime(from, until float64, holds func(days float64) bool) Moment {
	const looks = 200
	before := from
	for i := range looks + 1 {
		days := from + (until-from)*float64(i)/looks
		if !holds(days) {
			before = days
			continue
		}
		for range 40 {
			if middle := (before + days) / 2; holds(middle) {
				days = middle
			} else {
				before = middle
			}
		}
		return Moment{true, days}
	}
	return Moment{}
}

// Say returns in words when the tilt leaves the tolerance.
func (l Leaving) Say() string {
	return l.when() + l.ends()
}

func (l Leaving) when() string {
	switch {
	case !l.Earliest.Known:
		return fmt.Sprintf("It stays within the tolerance until day %.3g, with 95 %%.", l.UntilDays)
	case l.Latest.Known && l.Latest.Days <= l.FromDays:
		return "It is outside the tolerance already."
	case !l.Middle.Known:
		return fmt.Sprintf("It is expected to stay within the tolerance until day %.3g, but may leave it from day %.3g on.", l.UntilDays, l.Earliest.Days)
	case !l.Latest.Known:
		return fmt.Sprintf("It is expected to leave the tolerance on day %.3g, not before day %.3g; it may also stay within until day %.3g.", l.Middle.Days, l.Earliest.Days, l.UntilDays)
	}
	return fmt.Sprintf("It leaves the tolerance on day %.3g (day %.3g to %.3g with 95 %%).", l.Middle.Days, l.Earliest.Days, l.Latest.Days)
}

func (l Leaving) ends() string {
	if l.Why == "" || l.Latest.Known {
		return ""
	}
	return fmt.Sprintf(" The forecast ends there: %s.", l.Why)
}
