package search

import (
	"context"

	"headtrue/sweep/edges"
	"headtrue/sweep/estimate"
	"headtrue/sweep/record"
)

func (programme) outerEdge() float64 { return 0 }

// tilts takes the measured delay if it follows the screw, without places far from its line,
// else the screw position by its gearing.
func (c programme) tilts() (s []edges.Sample, byDelay bool) {
	l := c.trail()
	if !l.OK {
		return c.overScrew(c.Plan.Points(c.scanSteps())), false
	}
	for _, p := range c.Plan.Points(c.along(l)) {
		if p.ByX {
			s = append(s, edges.Sample{At: p.X, DB: p.DB, SD: p.DBSD})
		}
	}
	return s, true
}

// bracketed goes by the delay, which shows where the top must be; without it the edges alone
// decide.
func (c programme) bracketed() bool {
	s, byDelay := c.tilts()
	if byDelay {
		lo, hi := c.reachOf(c.trail())
		need := c.Plan.Material().HalfWidthArcmin(c.Plan.DullDB) * farOut
		zero := c.Plan.Tape.Arcmin(c.Plan.ChannelDelayUS)
		return lo < zero-need && hi > zero+need
	}
	return !c.lost() && c.wideEnough(s, byDelay)
}

// futile goes by the delay. Without a delay that follows the screw the scan goes on.
func (c programme) futile(_ []edges.Sample, byDelay bool, dir float64) (futile, decided bool) {
	if byDelay {
		return c.leaving(dir), true
	}
	return false, c.lost()
}

func (c programme) whyNoTop() error { return c.noTreble(c.trail()) }

// bracket goes to the delay zero if the delay gives it, else it searches the treble.
func (c programme) bracket(ctx context.Context) error {
	if near, err := c.approach(ctx); near || err != nil {
		return err
	}
	return c.scanBothWays(ctx)
}

func (programme) beginScan() {}

func (c programme) bracketFound() error {
	c.way = c.trail()
	return c.checkTreble(c.way)
}

func (programme) periodSure(estimate.Verdict) bool { return true }

// pass runs across the top first. If the delay is usable, or in a mix, each further pass
// alternates between the flanks instead, so that slow changes of the music cancel.
func (c programme) pass(ctx context.Context, v estimate.Verdict, n int) error {
	if n > 0 && (v.Line.OK && c.dullPasses == 0 || c.Plan.ByTreble) {
		return c.chop(ctx, c.centreGuess(v), c.flank(v), c.perDegBy(v))
	}
	if err := c.across(ctx, v); err != nil || c.Plan.ByTreble {
		return err // in a mix the delay does not predict the top
	}
	return c.checkTreble(v.Line)
}

// chop alternates between the two flanks, arcmin from the centre. In a mix, whose delay does
// not give the backlash, it arrives from the home side, in an order forth and back in which
// a steady change cancels.
func (c programme) chop(ctx context.Context, centre, flank, perDeg float64) error {
	const pairs = 2
	half := flank / perDeg
	for pair := range pairs {
		sides := []float64{-1, 1}
		if c.Plan.ByTreble && pair%2 == 1 {
			sides = []float64{1, -1}
		}
		for _, side := range sides {
			if err := c.fine(ctx, centre, centre+side*half, estimate.ChopSeconds, c.Plan.ByTreble); err != nil {
				return err
			}
		}
	}
	return nil
}

// flank returns the tilt from the centre that gives the most information per second, with
// the turn from the other flank included.
func (c programme) flank(v estimate.Verdict) float64 {
	f := v.Treble.Multiband
	if f == nil {
		return c.Plan.UsualFlank()
	}
	const least, most = 6.0, 22.0 // arcmin
	best, tells, perDeg := 0.0, 0.0, c.perDegBy(v)
	for tilt := least; tilt <= most; tilt += 0.5 {
		turn := 2 * tilt / perDeg / c.SpeedDegPerS()
		if t := f.Tells(tilt) / (estimate.ChopSeconds + c.Plan.SettleSeconds + turn); t > tells {
			best, tells = tilt, t
		}
	}
	return best
}

func (c programme) settled() []record.Step {
	if !c.Plan.ByTreble && c.way.OK {
		return c.along(c.way)
	}
	return c.Steps
}

// lost reports whether the head is far off, given that the delay does not follow the screw: it
// is if the channels have sound in common. A top of the treble is then one of the music.
func (c programme) lost() bool {
	return estimate.HasCommon(c.runSteps())
}

func (c programme) heardToFollow() bool { return c.trail().OK }

func (programme) vague(record.Step) bool { return false }

// follows: the delay jumps, as it does far off, or the turn has only begun to be heard.
func (c programme) follows(run []record.Step, _, expect float64) bool {
	return tiltRange(run) > expect/3+4 || c.mostlyFollows(run)
}

func (c programme) checks() []func() error { return []func() error{c.checkFollowing} }

func (programme) gone(record.Reading) bool { return false }

func (c programme) placeOff(v *estimate.Verdict, d estimate.Dwelt, want, _ float64) (off float64, fits bool) {
	return c.OffTilt(v, d.All, d.Tilt, want), true
}

func (programme) leapOf(*estimate.Verdict, record.Reading, float64) *leap { return nil }

func (programme) atTop(*estimate.Verdict, record.Reading) error { return nil }

func (programme) checkLobe(*estimate.Verdict) error { return nil }

func (c programme) delayAlone() bool { return c.byDelayAlone() }

func (programme) whole(r record.Reading) float64 { return r.DelayUS }
