package estimate

import (
	"headtrue/sweep/record"
	"headtrue/sweep/tape"
)

// FloorDB represents silence in a level, because a record holds numbers only.
const FloorDB = -200

// PeriodOf returns the tilt of one period of a reading of a tone, arcmin; 0 for a
// programme.
func PeriodOf(f tape.Format, r record.Reading) float64 { return f.Arcmin(r.DelayPeriodUS) }

// DelayUsable reports whether the delay of a reading is meaningful.
func DelayUsable(r record.Reading) bool {
	if r.DelayPeriodUS > 0 {
		return r.Coherence > 0.4 && r.DelaySDUS < r.DelayPeriodUS/5
	}
	return r.Coherence > 0.02 && r.DelaySDUS > 0 && r.DelaySDUS < 30
}
