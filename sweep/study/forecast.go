package study

import (
	"fmt"
	"math"
)

// Prediction is the prediction of a fit. Mean is the 95 % interval of the tilt itself,
// Next that of one more reading of it. After the last point the model is assumed to hold:
// the intervals do not include its errors.
type Prediction struct {
	Days, Arcmin               float64
	MeanSDArcmin, NextSDArcmin float64
	Mean, Next                 Interval
}

// Forecast predicts the tilt at a time. TemperatureC nil means the mean of the points,
// Cycles nil that of the last point, SDArcmin 0 the root mean square of the points'
// standard deviations.
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

// gradient returns the derivative of the tilt by each parameter, in the order of Params.
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

// Moment is a time if it is Known; if not, it is beyond the range searched.
type Moment struct {
	Known bool
	Days  float64
}

// Leaving is the time at which a tilt leaves a tolerance: Middle by the fit itself.
// Earliest and Latest are the 95 % bounds: the band of the mean first touches a limit, or
// is all beyond one.
type Leaving struct {
	Middle, Earliest, Latest Moment
	Above                    bool // by which limit the fit leaves
	FromDays, UntilDays      float64
}

// LeavesTolerance searches from the last point to untilDays for the time at which the
// tilt, at the mean temperature and without further cycles, differs from the reference by
// more than the limit.
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

// firstTime returns when holds first becomes true, by a thousand looks and bisection.
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

// Say returns in words when the tilt leaves the tolerance.
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
