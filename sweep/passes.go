package sweep

import (
	"context"
	"math"

	"headtrue/sweep/estimate"

	"headtrue/sweep/record"
)

// turnArcminPerS is the rate at which the head is turned past the top, arcmin per
// second. Much faster, and the tone's level changes within a frame.
const turnArcminPerS = 90

// passReach is how far beyond a dull edge a measuring pass goes, as a multiple of its
// distance from the centre.
const passReach = 1.3

// findTop turns one way until a dull edge is certain, then back over the top to
// the other, and stops as soon as the top is known to be the true one.
func (c *search) findTop(ctx context.Context) error {
	first := c.homeSide()
	limits := 0
	for _, dir := range []float64{first, -first} {
		c.tellDirection(dir)
		end := dir * c.plan.WindowDeg
		c.scanned = len(c.steps)
		if err := c.turn(ctx, phaseBracket, end, turnArcminPerS, func() bool { return c.bracketed() || c.leftTop() && c.farEnough(dir) }); err != nil {
			return err
		}
		if c.bracketed() {
			return nil
		}
		if math.Abs(c.screwDeg-end) < 1 {
			limits++
		}
	}
	return c.notBracketed(limits)
}

// acrossTop are the steps of the last scan and the passes after it, from the null
// before the top on: what came earlier says nothing about the top.
func (c *search) acrossTop() []record.Step {
	const null = 15 // dB below the top
	steps := c.scanSteps()
	if len(steps) == 0 {
		return nil
	}
	best := 0
	for i, s := range steps {
		if s.Phase == phaseBracket && s.Reading.TrebleDB > steps[best].Reading.TrebleDB {
			best = i
		}
	}
	for top := steps[best].Reading.TrebleDB; best > 0 && estimate.DelayUsable(steps[best-1].Reading) && steps[best-1].Reading.TrebleDB > top-null; {
		best--
	}
	return steps[best:]
}

// measurePass turns across the top, from the side where the screw stands.
func (c *search) measurePass(ctx context.Context, v estimate.Verdict) error {
	centre := c.centreGuess(v)
	half := passReach * c.plan.Material().HalfWidthArcmin(c.plan.DullDB) / c.perDeg()
	to := centre + half
	if c.screwDeg > centre {
		to = centre - half
	}
	if (to-c.screwDeg)*c.homeSide() < 0 {
		to -= 2 * estimate.LagDeg * c.homeSide()
	}
	return c.turn(ctx, "refine", c.within(to), turnArcminPerS, nil)
}

// leftTop says that the turn under way has gone away from the best place.
func (c *search) leftTop() bool {
	run := c.scanSteps()
	if len(run) == 0 {
		return false
	}
	best := run[brightest(run)]
	away := func(s record.Step) float64 { return math.Abs(s.ScrewDeg - best.ScrewDeg) }
	last := away(run[len(run)-1])
	far := c.plan.Material().NullArcmin() / (math.Abs(c.plan.GearingArcminPerTurn) / 360)
	return len(run) > 3 && last > away(run[0])+estimate.SlackAllowanceDeg && last > far
}
