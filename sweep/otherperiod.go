package sweep

import (
	"context"
	"math"

	"headtrue/sweep/estimate"

	"headtrue/sweep/record"
)

// mostPeriods is how many whole periods of a tone are looked at to either side: beyond, at
// 10 kHz, a head is hardly ever found.
const mostPeriods = 2

// otherPeriod looks whole periods of the tone to either side, and homes in where its level is
// most like that of as found: delay alone does not tell them apart. A count that is kept, or
// a guess that is sure to far less than a period, is left for a clearly other level only. If the place is further from the guess than a quarter
// of a period, the one on the other side of the guess is looked at in any case.
func (c *course) otherPeriod(ctx context.Context, past AsFoundBaseline, h restoreCheck, counts bool, guess float64) (restoreCheck, error) {
	want := past.heard()
	if want.DelayPeriodUS <= 0 || h.heard == unmoved || h.heard == contrary {
		return h, nil
	}
	if counts && past.End != nil && past.End.Outcome == record.AutoGain {
		return h, nil // the level as found was the gain's
	}
	least, here := h.unlike(want), c.ScrewDeg
	perDeg, _ := c.gearingOf(past)
	period := estimate.PeriodOf(c.Plan.Tape, *want) / math.Abs(perDeg)
	open := !counts && c.back.guessed && math.Abs(guess-here) > period/4
	sure := !counts && c.back.guessed && !open && c.back.guessSDDeg < period/4
	if least <= likeTrebleDB && !open || (counts && !h.leapt || sure) && h.heard != different {
		return h, nil
	}
	c.Tell("restore", "the tone's level, or where the screw was, leaves the period open: looking whole periods away")
	best, shifted := here, false
	for _, step := range []float64{-period, period} {
		at := here
		other := open && step*(guess-here) > 0
		for k := 0; k < mostPeriods && (least > likeTrebleDB || other && k == 0) && math.Abs(at+step) <= c.windowDeg; k++ {
			if err := c.GoTo(ctx, at+step, true); err != nil {
				return h, err
			}
			now, err := c.homeIn(ctx, past, false) // the gearing may be off: a level counts at the place by delay
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
			// on a flank of the treble its level hardly tells the periods apart
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

// seek looks for a place where the delay can be used, to either side of where as found
// should lie, and of two takes the one with more treble: a tone is not heard in a null. It
// returns whether there is one, and goes back if not.
func (c *course) seek(ctx context.Context, past AsFoundBaseline) (found bool, err error) {
	const stepArcmin, steps = 4, 3
	perDeg, _ := c.gearingOf(past)
	here, best, trebleDB := c.ScrewDeg, c.ScrewDeg, math.Inf(-1)
	c.Tell("restore", "the delay cannot be used here: looking to either side")
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
