package estimate

import (
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
