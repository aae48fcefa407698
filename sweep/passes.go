package sweep

import (
	"context"
	"math"

	"headtrue/sweep/record"
)

// Rates at which the head is turned past the top, arcmin per second: to find it
// and to measure it. Much faster, and the tone's level changes within a frame.
const (
	findArcminPerS    = 60
	measureArcminPerS = 60
)

// pass is how far beyond a dull edge a measuring pass goes, as a multiple of its
// distance from the centre.
const passReach = 1.2

// findTop turns one way until a dull edge is certain, then back over the top to
// the other, and stops as soon as the top is known to be the true one.
func (c *course) findTop(ctx context.Context) error {
	first := c.homeSide()
	limits := 0
	for _, dir := range []float64{first, -first} {
		c.tellDirection(dir)
		end := dir * c.plan.WindowDeg
		if err := c.turn(ctx, phaseBracket, end, findArcminPerS, func() bool { return c.bracketed() || c.leftTop() && c.farEnough(dir) }); err != nil {
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

// measurePass turns across the top, from the side where the screw stands.
func (c *course) measurePass(ctx context.Context, v verdict) error {
	centre := c.centreGuess(v)
	half := passReach * c.plan.material().halfWidth(c.plan.DullDB) / c.perDeg()
	to := centre + half
	if c.screwDeg > centre {
		to = centre - half
	}
	if (to-c.screwDeg)*c.homeSide() < 0 {
		to -= 2 * lagDeg * c.homeSide()
	}
	to = max(-c.plan.WindowDeg, min(c.plan.WindowDeg, to))
	return c.turn(ctx, "refine", to, measureArcminPerS, func() bool { return false })
}

// leftTop says that the turn under way has gone away from the best place.
func (c *course) leftTop() bool {
	run := c.runSteps()
	best := c.steps[0]
	for _, s := range c.steps {
		if s.Reading.TrebleDB > best.Reading.TrebleDB {
			best = s
		}
	}
	away := func(s record.Step) float64 { return math.Abs(s.ScrewDeg - best.ScrewDeg) }
	return len(run) > 3 && away(run[len(run)-1]) > away(run[0])+slackAllowanceDeg
}
