package estimate

import (
	"math"

	"headtrue/sweep/record"

	"headtrue/sweep/tape"
)

// FloorDB stands for "nothing there" in a level, since a record holds numbers
// only.
const FloorDB = -200

// PeriodOf is the tilt, in arcmin, that a reading of a tone leaves open; 0 of a programme.
func PeriodOf(f tape.Format, r record.Reading) float64 { return f.Arcmin(r.DelayPeriodUS) }

// DelayUsable reports whether the delay of a reading means anything.
func DelayUsable(r record.Reading) bool {
	if r.DelayPeriodUS > 0 {
		return r.Coherence > 0.4 && r.DelaySDUS < r.DelayPeriodUS/5
	}
	return r.Coherence > 0.02 && r.DelaySDUS > 0 && r.DelaySDUS < 30
}

// TiltBetween is the tilt from b to a in arcmin by their delays; for a tone the
// smallest that fits.
func TiltBetween(f tape.Format, a, b record.Reading) float64 {
	d := a.DelayUS - b.DelayUS
	if period := max(a.DelayPeriodUS, b.DelayPeriodUS); period > 0 {
		d = math.Remainder(d, period)
	}
	return f.Arcmin(d)
}

// TiltSD is the standard deviation of tiltBetween, arcmin.
func TiltSD(f tape.Format, a, b record.Reading) float64 { return math.Hypot(OwnSD(f, a), OwnSD(f, b)) }

// OwnSD is the standard deviation of a reading's tilt, arcmin. In a short one the
// wander of the tape shows less than it is: what it may usually be counts too.
func OwnSD(f tape.Format, r record.Reading) float64 {
	return max(f.Arcmin(r.DelaySDUS), priorWander.MeanSD(r.Seconds))
}
