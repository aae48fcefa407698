package byhand

import (
	"math"

	"headtrue/sweep/estimate"
)

// target converts tracked tilts to distances from the optimum.
type target struct {
	tilt   float64 // optimum, arcmin by the delay
	shift  float64 // by which tracked tilts exceed those in the period of the optimum
	period float64 // of a tone; 0 for a programme
	curve  estimate.Curve
}

// placeOn returns the target of a decision.
func (h *Hand) placeOn(v *estimate.Verdict) *target {
	t := &target{tilt: v.TiltArcmin, curve: v.Treble}
	if h.Plan.ToneHz > 0 && len(h.Plan.FurtherTonesHz) == 0 {
		t.period = h.Plan.PeriodArcmin()
	}
	if shift, ok := v.LastShift(h.steps, h.Plan); ok {
		t.shift = shift
	}
	return t
}

// off returns the distance of a tracked tilt from the target, arcmin.
func (t *target) off(tracked float64) float64 { return tracked - t.shift - t.tilt }

// levelSDDB is how far the level of a tone may differ from its curve; another period makes more.
const levelSDDB = 1.0

// choosePeriod sets the whole periods of a tone by its level: through a null, or in a fast turn,
// they may have been miscounted.
func (t *target) choosePeriod(tracked, trebleDB float64) {
	if t.period == 0 || !t.curve.OK {
		return
	}
	const most = 3
	best, least := 0.0, math.Inf(1)
	for k := -most; k <= most; k++ {
		off := t.off(tracked) + float64(k)*t.period
		misfit := (trebleDB - t.curve.At(t.tilt+off)) / levelSDDB
		cost := misfit*misfit + math.Abs(float64(k))
		if cost < least {
			best, least = float64(k), cost
		}
	}
	t.shift -= best * t.period
}
