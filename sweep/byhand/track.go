package byhand

import (
	"math"

	"gonum.org/v1/gonum/stat"

	"headtrue/sweep/estimate"
	"headtrue/sweep/record"
)

// track follows the tilt of the head by the delay between the channels. A tone gives the delay
// only to whole periods: they are counted from cell to cell.
type track struct {
	plan estimate.Plan
	at   []float64 // tape seconds of the latest usable cells
	tilt []float64 // arcmin
}

// trackCells is how many cells the track keeps.
const trackCells = 60

// trendSeconds is the time over which a trend continues the track.
const trendSeconds = 0.3

// follow sets the tracked delay of a reading and adds it to the track. It returns whether the
// delay can be used.
func (t *track) follow(r *record.Reading, at float64) bool {
	r.DelayTrackedUS = r.DelayUS
	if !estimate.DelayUsable(*r) {
		return false
	}
	if r.DelayPeriodUS > 0 && len(t.tilt) > 0 {
		period := t.plan.PeriodArcmin()
		now := r.DelayUS / r.DelayPeriodUS * period
		expect := t.expected(at)
		r.DelayTrackedUS = t.plan.Tape.Microseconds(expect + math.Remainder(now-expect, period))
	}
	t.add(at, t.plan.Tape.Arcmin(r.DelayTrackedUS))
	return true
}

func (t *track) add(at, tilt float64) {
	if len(t.at) == trackCells {
		t.at, t.tilt = t.at[1:], t.tilt[1:]
	}
	t.at, t.tilt = append(t.at, at), append(t.tilt, tilt)
}

// expected continues the latest trend to a time. Through a gap it goes on by the trend for a
// short time only: a hand may have stopped meanwhile.
func (t *track) expected(at float64) float64 {
	last := len(t.at) - 1
	speed, ok := t.speed()
	if !ok {
		return t.tilt[last]
	}
	return t.tilt[last] + speed*min(at-t.at[last], trendSeconds)
}

// speed returns the rate of the tilt over the last trendSeconds, arcmin per second.
func (t *track) speed() (arcminPerS float64, ok bool) {
	last := len(t.at) - 1
	first := last
	for first > 0 && t.at[last]-t.at[first-1] <= trendSeconds {
		first--
	}
	if last-first < 2 {
		return 0, false
	}
	_, slope := stat.LinearRegression(t.at[first:], t.tilt[first:], nil, false)
	return slope, true
}

// between returns the mean tilt of the usable cells from one time to another.
func (t *track) between(from, to float64) (tilt float64, ok bool) {
	n := 0
	for i, at := range t.at {
		if at >= from && at < to {
			tilt += t.tilt[i]
			n++
		}
	}
	return tilt / float64(max(n, 1)), n > 0
}

// still reports whether the tilt has not changed by more than the tape's wander over the last
// two periods of seconds each.
func (t *track) still(seconds, at float64) bool {
	const wander = 1.8 // arcmin: three deviations of the difference of two such means
	now, ok := t.between(at-seconds, at+1)
	before, also := t.between(at-2*seconds, at-seconds)
	return ok && also && math.Abs(now-before) < wander
}
