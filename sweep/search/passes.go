package search

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
func (c *Search) findTop(ctx context.Context) error {
	first := c.HomeSide()
	limits := 0
	for _, dir := range []float64{first, -first} {
		c.tellDirection(dir)
		end := dir * c.Plan.WindowDeg
		c.scanned = len(c.Steps)
		if err := c.turn(ctx, phaseBracket, end, turnArcminPerS, func() bool { return c.bracketed() || c.leftTop() && c.farEnough(dir) }); err != nil {
			return err
		}
		if c.bracketed() {
			return nil
		}
		if math.Abs(c.ScrewDeg-end) < 1 {
			limits++
		}
	}
	return c.notBracketed(limits)
}

// measurePass turns across the top, from the side where the screw stands.
func (c *Search) measurePass(ctx context.Context, v estimate.Verdict) error {
	centre := c.centreGuess(v)
	half := passReach * c.Plan.Material().HalfWidthArcmin(c.Plan.DullDB) / c.perDeg()
	to := centre + half
	if c.ScrewDeg > centre {
		to = centre - half
	}
	if (to-c.ScrewDeg)*c.HomeSide() < 0 {
		to -= 2 * estimate.LagDeg * c.HomeSide()
	}
	return c.turn(ctx, "refine", c.Within(to), turnArcminPerS, nil)
}

// leftTop says that the turn under way has gone away from the best place.
func (c *Search) leftTop() bool {
	run := c.scanSteps()
	if len(run) == 0 {
		return false
	}
	best := run[brightest(run)]
	away := func(s record.Step) float64 { return math.Abs(s.ScrewDeg - best.ScrewDeg) }
	last := away(run[len(run)-1])
	far := c.Plan.Material().NullArcmin() / (math.Abs(c.Plan.GearingArcminPerTurn) / 360)
	return len(run) > 3 && last > away(run[0])+estimate.SlackAllowanceDeg && last > far
}
