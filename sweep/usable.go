package sweep

import "headtrue/sweep/record"

// floorDB stands for "nothing there" in a level, since a record holds numbers
// only.
const floorDB = -200

// periodOf is the tilt, in arcmin, that a reading of a tone leaves open; 0 of a programme.
func periodOf(r record.Reading) float64 { return r.DelayPeriodUS / USPerArcmin }

// delayUsable reports whether the delay of a reading means anything.
func delayUsable(r record.Reading) bool {
	if r.DelayPeriodUS > 0 {
		return r.Coherence > 0.4 && r.DelaySDUS < r.DelayPeriodUS/5
	}
	return r.Coherence > 0.02 && r.DelaySDUS > 0 && r.DelaySDUS < 30
}
