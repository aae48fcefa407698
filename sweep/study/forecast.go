package study

import (
	"fmt"
	"math"
)

// Prediction is what a fit foretells. Mean is where the tilt itself lies with 95 %,
// Next where one more reading of it lies. Beyond the last point the model is taken on
// trust: the intervals do not hold what it leaves out.
type Prediction struct {
	Days, Arcmin               float64
	MeanSDArcmin, NextSDArcmin float64
	Mean, Next                 Interval
}

// Forecast predicts the tilt at a time. TemperatureC nil stands for the mean of the
// points, Cycles nil for that of the last point, SDArcmin 0 for a reading as certain
// as the points were (root mean square).
func (f Fit) Forecast(at Point) Prediction {
	gradient := f.gradient(at)
	middle := 0.0
	if f.Model.OffsetArcmin != nil {
		middle = *f.Model.OffsetArcmin
	}
	for i, g := range gradient {
		if !f.law.nonlinear || i < len(gradient)-1 {
			middle += g * f.Params[i].Value
		}
	}
	variance := 0.0
	for i, g := range gradient {
		for j, h := range gradient {
			variance += g * h * f.covariance.At(i, j)
		}
	}
	noise := f.typicalSD
	if at.SDArcmin > 0 {
		noise = at.SDArcmin
		if f.Stated {
			noise *= f.Scale
		}
	}
	p := Prediction{Days: at.Days, Arcmin: middle, MeanSDArcmin: math.Sqrt(variance), NextSDArcmin: math.Sqrt(variance + noise*noise)}
	p.Mean = Interval{middle - f.coverage*p.MeanSDArcmin, middle + f.coverage*p.MeanSDArcmin}
	p.Next = Interval{middle - f.coverage*p.NextSDArcmin, middle + f.coverage*p.NextSDArcmin}
	return p
}

// gradient is that of the tilt by each parameter, in the order of Params.
func (f Fit) gradient(at Point) []float64 {
	var g []float64
	theta, b := 0.0, 0.0
	if f.law.nonlinear {
		theta = f.Params[len(f.Params)-1].Value
	}
	for _, p := range f.Params {
		switch p.Name {
		case "a":
			g = append(g, 1)
		case "b":
			b = p.Value
			g = append(g, f.law.shape(at.Days, theta))
		case "temperature":
			off := 0.0
			if at.TemperatureC != nil {
				off = *at.TemperatureC - f.meanC
			}
			g = append(g, off)
		case "cycles":
			off := f.last
			if at.Cycles != nil {
				off = *at.Cycles - f.meanCycles
			}
			g = append(g, off)
		case f.law.name:
			g = append(g, b*f.law.slope(at.Days, theta))
		}
	}
	return g
}

// Moment is a time, where it is Known: else it lies beyond what was asked.
type Moment struct {
	Known bool
	Days  float64
}

// Leaving says when a tilt leaves a tolerance: by the fit itself, and between which
// times with 95 %: Earliest is where the band of the mean first touches a limit,
// Latest where all of it lies beyond one.
type Leaving struct {
	Middle, Earliest, Latest Moment
	Above                    bool // by which limit the fit leaves
	FromDays, UntilDays      float64
}

// LeavesTolerance looks from the last point until the day named for when the tilt,
// at the mean temperature and without further cycles, is more than limit away from
// the reference.
func (f Fit) LeavesTolerance(referenceArcmin, limitArcmin, untilDays float64) (Leaving, error) {
	if !(limitArcmin > 0) || !(untilDays > f.lastDays) || math.IsNaN(referenceArcmin) || math.IsInf(untilDays, 1) {
		return Leaving{}, fmt.Errorf("study: a tolerance of %v' around %v' until day %v, the last point being at day %v", limitArcmin, referenceArcmin, untilDays, f.lastDays)
	}
	l := Leaving{FromDays: f.lastDays, UntilDays: untilDays}
	at := func(days float64) Prediction { return f.Forecast(Point{Days: days}) }
	low, high := referenceArcmin-limitArcmin, referenceArcmin+limitArcmin
	first := func(out func(Prediction) bool) Moment {
		return firstTime(l.FromDays, untilDays, func(days float64) bool { return out(at(days)) })
	}
	l.Middle = first(func(p Prediction) bool { return p.Arcmin < low || p.Arcmin > high })
	l.Earliest = first(func(p Prediction) bool { return p.Mean.LowArcmin < low || p.Mean.HighArcmin > high })
	l.Latest = first(func(p Prediction) bool { return p.Mean.HighArcmin < low || p.Mean.LowArcmin > high })
	l.Above = l.Middle.Known && at(l.Middle.Days).Arcmin > referenceArcmin
	return l, nil
}

// firstTime is when something first holds, by a thousand looks and bisection.
func firstTime(from, until float64, holds func(days float64) bool) Moment {
	const looks = 1000
	before := from
	for i := range looks + 1 {
		days := from + (until-from)*float64(i)/looks
		if !holds(days) {
			before = days
			continue
		}
		for range 60 {
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

// Say tells when the tolerance is left.
func (l Leaving) Say() string {
	switch {
	case !l.Earliest.Known:
		return fmt.Sprintf("It stays within the tolerance until day %.0f, with 95 %%.", l.UntilDays)
	case l.Latest.Known && l.Latest.Days <= l.FromDays:
		return "It is outside the tolerance already."
	case !l.Middle.Known:
		return fmt.Sprintf("It is expected to stay within the tolerance until day %.0f, but may leave it from day %.0f on.", l.UntilDays, l.Earliest.Days)
	case !l.Latest.Known:
		return fmt.Sprintf("It is expected to leave the tolerance on day %.0f, not before day %.0f; it may also stay within until day %.0f.", l.Middle.Days, l.Earliest.Days, l.UntilDays)
	}
	return fmt.Sprintf("It leaves the tolerance on day %.0f (day %.0f to %.0f with 95 %%).", l.Middle.Days, l.Earliest.Days, l.Latest.Days)
}
