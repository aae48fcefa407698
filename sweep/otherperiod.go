package sweep

import (
	"context"
	"math"

	"headtrue/sweep/estimate"
)

// mostPeriods is the number of whole periods of a tone examined to either side: a head is
// hardly ever found beyond that, at 10 kHz.
const mostPeriods = 2

// otherPeriod examines places whole periods of the tone to either side and homes in at the
// level most like as found: the delay alone cannot separate them. A kept count, or a guess
// certain to far less than a period, yields only to a clearly different level. If the place
// is over 1/4 period from the guess, it also tries the place beyond the guess.
func (c *course) otherPeriod(ctx context.Context, past AsFoundBaseline, h restoreCheck, counts bool, guess float64) (restoreCheck, error) {
	want := past.heard()
	if want.DelayPeriodUS <= 0 || h.heard == unmoved || h.heard == contrary {
		return h, nil
	}
	if counts && past.levelsVoid() {
		return h, nil // the gain set the level as found
	}
	least, here := h.unlike(want), c.ScrewDeg
	perDeg, _ := c.gearingOf(past)
	period := estimate.PeriodOf(c.Plan.Tape, *want) / math.Abs(perDeg)
	open := !counts && c.back.guessed && math.Abs(guess-here) > period/4
	sure := !counts && c.back.guessed && !open && c.back.guessSDDeg < period/4
	if least <= likeTrebleDB && !open || (counts && !h.leapt || sure) && h.heard != different {
		return h, nil
	}
	c.Tell("restore", "the tone alone leaves whole periods of tilt open: trying the next ones by its level")
	best, shifted := here, false
	for _, step := range []float64{-period, period} {
		at := here
		other := open && step*(guess-here) > 0
		for k := 0; k < mostPeriods && (least > likeTrebleDB || other && k == 0) && math.Abs(at+step) <= c.windowDeg; k++ {
			if err := c.GoTo(ctx, at+step, true); err != nil {
				return h, err
			}
			now, err := c.homeIn(ctx, past, false) // the gearing may be wrong: a level counts at the place by delay
			if err != nil {
				return h, err
			}
			at += step
			if now.heard != alike && now.heard != different || math.Abs(now.off) > foundAgainArcmin {
				continue
			}
			if math.Abs(c.ScrewDeg-at) < period/2 {
				at = c.ScrewDeg
			}
			// on a flank of the treble the level hardly separates the periods
			tie := least <= sameTrebleDB && now.unlike(want) <= likeTrebleDB
			shifted = shifted || counts || tie
			if now.unlike(want) < least {
				h, least, best = now, now.unlike(want), c.ScrewDeg
			}
		}
	}
	h.shifted = h.shifted || shifted
	return h, c.stayAt(ctx, best)
}

// seek searches on both sides of as found for a place with a usable delay, since a tone is not
// heard in a null. Of two such places it takes the one with more treble. It reports whether it
// found one; if not, it has driven back.
func (c *course) seek(ctx context.Context, past AsFoundBaseline) (found bool, err error) {
	const stepArcmin, steps = 4, 3
	perDeg, _ := c.gearingOf(past)
	here, best, trebleDB := c.ScrewDeg, c.ScrewDeg, math.Inf(-1)
	c.Tell("restore", "the delay cannot be measured here: trying either side")
	for k := 1.0; k <= steps && !found; k++ {
		for _, side := range []float64{1, -1} {
			deg := here + side*k*stepArcmin/perDeg
			if math.Abs(deg) > c.windowDeg {
				continue
			}
			if err := c.GoTo(ctx, deg, true); err != nil {
				return false, err
			}
			r, err := c.Listen(ctx, c.Plan.ProofSeconds/2)
			if err != nil {
				return false, err
			}
			if estimate.DelayUsable(r) && !c.ToneGone(r) && r.TrebleDB > trebleDB {
				found, best, trebleDB = true, deg, r.TrebleDB
			}
		}
	}
	return found, c.stayAt(ctx, best)
}
