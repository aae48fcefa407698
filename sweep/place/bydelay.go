package place

import (
	"cmp"
	"math"
	"slices"

	"headtrue/sweep/record"
)

// unknownSD is the standard deviation that stands for "unknown" in a record.
const unknownSD = 1e6

// byDelay returns the tilt at each step by the delay, arcmin; NaN if it is unknown.
func byDelay(steps []record.Step, curve []Level) []float64 {
	perUS := arcminPerUS(steps)
	at := make([]float64, len(steps))
	tone := false
	for i, s := range steps {
		at[i] = math.NaN()
		if r := s.Reading; r.Usable && r.Coherence > 0 && r.DelaySDUS < unknownSD && perUS != 0 {
			if tilt := r.DelayTrackedUS * perUS; math.Abs(tilt) < mostArcmin {
				at[i] = tilt
			}
			tone = tone || r.DelayPeriodUS > 0
		}
	}
	if tone && len(curve) > 1 {
		inOnePeriod(steps, at, perUS, curve)
	}
	return at
}

// mostArcmin is a tilt that no head has.
const mostArcmin = 1e4

// arcminPerUS is the tilt for a delay, by the reading with the greatest one; 0 if there is none.
func arcminPerUS(steps []record.Step) (perUS float64) {
	greatest := 0.0
	for _, s := range steps {
		if d := math.Abs(s.Reading.DelayUS); d > greatest {
			greatest, perUS = d, s.Reading.TiltArcmin/s.Reading.DelayUS
		}
	}
	return perUS
}

// Limits of the stretches that are put to a period: their levels above the top of the curve less
// lobeDB (a tone's next lobe is 13 dB down), their length, the greatest mean square of the levels
// about the curve, and by how much any other period must fit worse, dB^2.
const (
	lobeDB      = 11
	leastSteps  = 5
	mostMisfit  = 2.5
	clearMisfit = 2
	outlierDB2  = 25
)

// inOnePeriod shifts each stretch of a tone's tilts within the main lobe by the whole periods
// with which its levels fit the curve. What fits no period, or several, has no place.
func inOnePeriod(steps []record.Step, at []float64, perUS float64, curve []Level) {
	curve = slices.SortedFunc(slices.Values(curve), func(a, b Level) int { return cmp.Compare(a.At, b.At) })
	top := math.Inf(-1)
	for _, c := range curve {
		top = max(top, c.DB)
	}
	inLobe := func(i int) bool { return !math.IsNaN(at[i]) && steps[i].Reading.TrebleDB > top-lobeDB }
	for from := 0; from < len(steps); {
		if !inLobe(from) {
			at[from] = math.NaN()
			from++
			continue
		}
		to := from
		for to < len(steps) && inLobe(to) {
			to++
		}
		period := math.Abs(steps[from].Reading.DelayPeriodUS * perUS)
		shift, ok := wholePeriods(steps[from:to], at[from:to], period, curve)
		for i := from; i < to; i++ {
			if at[i] -= shift; !ok {
				at[i] = math.NaN()
			}
		}
		from = to
	}
}

// mostPeriods limits the search on either side: a tape's delay is less.
const mostPeriods = 20

// wholePeriods returns the shift by whole periods with which a stretch fits the curve.
func wholePeriods(steps []record.Step, at []float64, period float64, curve []Level) (shift float64, ok bool) {
	if len(steps) < leastSteps || !(period > 0) {
		return 0, false
	}
	least, next := math.Inf(1), math.Inf(1)
	middle := (curve[0].At + curve[len(curve)-1].At) / 2
	nearest := math.Round((at[0] - middle) / period)
	for i := range 2*mostPeriods + 1 {
		k, sum := nearest+float64(i-mostPeriods), 0.0
		for i, s := range steps {
			d := s.Reading.TrebleDB - levelAt(curve, at[i]-k*period)
			sum += min(d*d, outlierDB2)
		}
		switch misfit := sum / float64(len(steps)); {
		case misfit < least:
			shift, least, next = k*period, misfit, least
		case misfit < next:
			next = misfit
		}
	}
	return shift, least <= mostMisfit && next >= least+clearMisfit
}

// levelAt returns the level of a sorted curve at a place, by straight lines; beyond its ends it
// falls by a decibel for each arcminute.
func levelAt(curve []Level, at float64) float64 {
	n, exact := slices.BinarySearchFunc(curve, at, func(c Level, at float64) int { return cmp.Compare(c.At, at) })
	switch {
	case exact:
		return curve[n].DB
	case n == 0:
		return curve[0].DB - (curve[0].At - at)
	case n == len(curve):
		return curve[n-1].DB - (at - curve[n-1].At)
	}
	a, b := curve[n-1], curve[n]
	return a.DB + (at-a.At)/(b.At-a.At)*(b.DB-a.DB)
}
