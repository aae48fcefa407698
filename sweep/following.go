package sweep

import (
	"fmt"
	"math"

	"headtrue/sweep/record"
)

// slackAllowanceDeg is how far a blade may turn in its slot, and the drive in
// its play, before the screw must follow.
const slackAllowanceDeg = 35

// lowestGearing is the least tilt in arcmin that a turn of a real mount makes,
// used only to ask whether anything moves at all: M2 (0.4 mm) on a lever of
// 23 mm, common practice, no source.
const lowestGearing = 60

// checkFollowing stops the run where the sound does not follow the screw: over
// the last steps in one direction, more than the slack allows, the delay has
// stood still.
func (c *course) checkFollowing() error {
	run := c.lastRun()
	if len(run) < 3 {
		return nil
	}
	first, last := run[0], run[len(run)-1]
	turned := math.Abs(last.ScrewDeg - first.ScrewDeg)
	expect := lowestGearing / 360.0 * (turned - slackAllowanceDeg)
	if turned <= slackAllowanceDeg || expect < 4 {
		return nil
	}
	if !delayUsable(first.Reading) || !delayUsable(last.Reading) {
		return nil
	}
	tilt := math.Abs(last.Reading.DelayTrackedUS-first.Reading.DelayTrackedUS) / USPerArcmin
	if tilt > expect/3 {
		return nil
	}
	if change := balanceRange(run); change > 3 {
		return &stop{outcome: record.WrongScrew,
			say: fmt.Sprintf("turning %.0f degrees changed the level or balance by %.1f dB but not the delay between the channels: this is not the azimuth screw", turned, change),
			do:  "turn this screw back with restore, and seat the blade on the azimuth screw"}
	}
	return &stop{outcome: record.NotFollowing,
		say: fmt.Sprintf("the sound does not follow the screw: %.0f degrees turned the head by %.1f', at least %.0f' was expected", turned, tilt, expect),
		do:  "look for lacquer on the screw, a slipping coupling, the blade out of its slot, or a wrong screw; force nothing"}
}

// lastRun is the latest steps that went in one direction, as far back as the
// slack allowance and a little more needs.
func (c *course) lastRun() []record.Step {
	n := len(c.steps)
	if n < 2 {
		return nil
	}
	dir := math.Signbit(c.steps[n-1].ScrewDeg - c.steps[n-2].ScrewDeg)
	i := n - 1
	for i > 0 && math.Signbit(c.steps[i].ScrewDeg-c.steps[i-1].ScrewDeg) == dir &&
		math.Abs(c.steps[n-1].ScrewDeg-c.steps[i].ScrewDeg) < slackAllowanceDeg+30 {
		i--
	}
	return c.steps[i:]
}

// balanceRange is how much the level of either channel, or the balance between
// them, changed over the steps, dB.
func balanceRange(run []record.Step) float64 {
	var most float64
	of := func(f func(r record.Reading) float64) {
		lo, hi := math.Inf(1), math.Inf(-1)
		for _, s := range run {
			lo, hi = min(lo, f(s.Reading)), max(hi, f(s.Reading))
		}
		most = max(most, hi-lo)
	}
	of(func(r record.Reading) float64 { return r.LevelDBFS[0] - r.LevelDBFS[1] })
	return most
}

// checkTone stops the run where the tone has gone: near a place where it was
// heard well it is gone at once, elsewhere after three steps without it, which
// no null between two lobes explains.
func (c *course) checkTone() error {
	if c.plan.ToneHz == 0 || len(c.steps) == 0 {
		return nil
	}
	best := math.Inf(-1)
	for _, s := range c.steps {
		best = max(best, s.Reading.TrebleDB)
	}
	gone := 0
	for i := len(c.steps) - 1; i >= 0 && c.steps[i].Reading.TrebleDB < best-toneGoneDB; i-- {
		gone++
	}
	if gone >= 3 {
		return toneOver()
	}
	return nil
}

// toneGoneDB is further down than the third side lobe (-20.8 dB) by a margin.
const toneGoneDB = 32

func toneOver() error {
	return &stop{outcome: record.ToneOver,
		say: "the tone is over: it was heard before and is not any more",
		do:  "rewind the tone, start it again and run align again, or restore"}
}
