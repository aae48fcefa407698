package search

import (
	"context"
	"math"

	"headtrue/sweep/estimate"
	"headtrue/sweep/record"
)

// turnArcminPerS is the rate at which the head turns past the top. If it were much faster,
// the tone's level would change within a frame.
const turnArcminPerS = 90

// passReach is the reach of a measuring pass as a multiple of the distance from the centre
// to a dull edge.
const passReach = 1.3

// findTop turns in one direction until a dull edge is certain, then back across the top to
// the other edge. It stops as soon as the top is known to be the true one.
func (c tone) findTop(ctx context.Context) error {
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

// measurePass turns across the top, from the side on which the screw stands.
func (c tone) measurePass(ctx context.Context, v estimate.Verdict) error {
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

// leftTop reports whether the turn under way has left the best place.
func (c tone) leftTop() bool {
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
