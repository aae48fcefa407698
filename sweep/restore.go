package sweep

import (
	"context"
	"fmt"
	"math"

	"headtrue/sweep/estimate"
	"headtrue/sweep/figures"
	"headtrue/sweep/record"
	"headtrue/sweep/session"
)

// Restore puts the screw back as the past run found it. If the jig has kept its count,
// Restore goes by that, and the sound only confirms it or corrects within its own
// uncertainty; else it goes by the as-found delay. Last, with the blade away again, it
// compares the head with the as-found reading with the blade off.
func Restore(ctx context.Context, s Setup, past AsFoundBaseline) (record.End, error) {
	s.Plan.ToneHz, s.Plan.FurtherTonesHz = past.ToneHz, past.FurtherTonesHz
	s.Plan.SlackTakenUp = past.Found.SlackTakenUp
	s.Running = false // that tone is as heard, with the tape's speed error in it
	c := begin(s)
	c.back = &wayBack{past: past}
	end, err := c.restore(ctx, past)
	return c.conclude(ctx, end, err)
}

func (c *course) restore(ctx context.Context, past AsFoundBaseline) (record.End, error) {
	now, counts, err := c.rejoin(ctx, past)
	if err != nil {
		return record.End{}, err
	}
	c.back.counts = counts
	if err := c.engageAgain(ctx, past); err != nil {
		return record.End{}, err
	}
	target := c.likelyFound(past)
	switch {
	case counts:
		c.Tell("restore", "the jig has kept its count: driving from %.1f to %.1f degrees", now, target)
	case c.back.guessed:
		c.Tell("restore", "the jig's count is in doubt: driving by %.0f degrees to where it says the screw was found; then the sound decides", target-now)
	default:
		target = now
		c.Tell("restore", "the jig has lost the count of that run: going by the sound")
	}
	if target != now || counts {
		if err := c.GoTo(ctx, target, true); err != nil {
			return record.End{}, err
		}
	}
	h, err := c.bySound(ctx, past, counts)
	if err != nil {
		return record.End{}, err
	}
	c.back.restoreCheck = h
	if !counts && h.heard == alike {
		c.CallHere(past.place() + h.offDeg)
	}
	if err := c.leave(ctx, nil, h.reading); err != nil {
		return record.End{}, err
	}
	end := c.proveRestored(sayRestored(h, counts, past), past)
	if !counts && !c.back.guessed || h.shifted {
		end = c.doubtPeriod(end, h)
	}
	return end, nil
}

// bySound homes in by the sound at a place with a usable delay, and on a tone in the period
// whose level is that of as found. If no period has that level, a kept count prevails.
func (c *course) bySound(ctx context.Context, past AsFoundBaseline, counts bool) (restoreCheck, error) {
	counted, want := c.ScrewDeg, past.heard()
	h, err := c.homeIn(ctx, past, counts)
	if err != nil || counts && past.sure() || want == nil || !estimate.DelayUsable(*want) {
		return h, err
	}
	trusted := counts
	if h.heard == unheard {
		found, err := c.seek(ctx, past)
		if err != nil || !found {
			return h, err
		}
		if h, err = c.homeIn(ctx, past, false); err != nil {
			return h, err
		}
		trusted = trusted && h.heard != unheard // as found the delay was usable
	}
	if h, err = c.otherPeriod(ctx, past, h, trusted, counted); err == nil && counts && h.heard != alike {
		err = c.stayAt(ctx, counted)
	}
	h.shifted = h.shifted || counts && !trusted
	return h, err
}

// doubtPeriod changes a good end by a tone alone to a doubtful one: whole periods are open.
func (c *course) doubtPeriod(end record.End, h restoreCheck) record.End {
	if end.Outcome == record.Restored && h.reading != nil && h.reading.DelayPeriodUS > 0 {
		end.Outcome = record.RestoreDoubt
		end.Say += fmt.Sprintf("; but a tone by itself leaves whole periods of %.0f' open", estimate.PeriodOf(c.Plan.Tape, *h.reading))
		end.Do = "restore once more on music or on several tones, or set the head anew with align"
	}
	return end
}

// engageAgain energises with the blade off, because a run that broke off may have left it in
// the slot and the rotor may jump. Then it has the blade seated. Before that it checks
// whether the head still sounds as it was left: then the tape is that of the run.
func (c *course) engageAgain(ctx context.Context, past AsFoundBaseline) error {
	if err := c.Ask(ctx, session.BladeOff); err != nil {
		return err
	}
	if left := past.Left; left != nil && estimate.DelayUsable(*left) {
		r, raw, err := c.Hear(ctx, c.Plan.ProofSeconds)
		if err != nil {
			return err
		}
		off := math.Abs(estimate.TiltBetween(c.Plan.Tape, r, *left))
		c.back.sameTape = c.Judge(r, raw) == nil && estimate.DelayUsable(r) && off < max(1, estimate.Contradiction*estimate.TiltSD(c.Plan.Tape, r, *left))
	}
	if _, err := c.Energise(ctx); err != nil {
		return err
	}
	return c.Handle(ctx, session.SeatBlade)
}

// rejoin restores the degrees of the past run if the count is still the same, and sets the
// window about the present position of the screw.
func (c *course) rejoin(ctx context.Context, past AsFoundBaseline) (now float64, counts bool, err error) {
	r := session.Rejoining{Found: past.Found, CountGone: past.CountGone, Slipped: past.slipped()}
	if end := past.End; end != nil && end.ScrewOffDeg != nil && end.ScrewOffSDDeg < mostGuessDeg {
		likely := c.likelyFound(past) - estimate.LagDeg*c.HomeSide() + *end.ScrewOffDeg
		r.LikelyDeg = &likely
		c.back.guessSDDeg = end.ScrewOffSDDeg
	}
	counts, c.back.guessed, err = c.RejoinCount(ctx, r)
	if err != nil {
		return 0, false, err
	}
	c.windowDeg, err = c.Widen(ctx, estimate.SlackAllowanceDeg)
	return c.ScrewDeg, counts, err
}

// mostGuessDeg is the limit of the standard deviation of a guessed screw position, degrees.
const mostGuessDeg = 15

// proveRestored also compares the head with the blade away: a good end becomes doubtful if
// it differs from as found.
func (c *course) proveRestored(end record.End, past AsFoundBaseline) record.End {
	now, want := c.Left.Released, past.Found.BladeOff
	if end.Outcome != record.Restored || now == nil || want == nil || !estimate.DelayUsable(*now) || !estimate.DelayUsable(*want) {
		return end
	}
	off := estimate.TiltBetween(c.Plan.Tape, *now, *want)
	if math.Abs(off) <= max(1, estimate.Contradiction*past.betweenSD(c.Plan.Tape, *now, *want)) {
		return end
	}
	return record.End{Outcome: record.RestoreDoubt,
		Say: fmt.Sprintf("%s; but with the blade away the head stands %.1f' from where %s", end.Say, off, past.asFound()),
		Do:  "look whether the blade tilts the head, or turns the screw when it is withdrawn, then restore again"}
}

// sayRestored returns the end of a restore. A kept count gives the as-found position of the
// screw only if the backlash at that time is known.
func sayRestored(h restoreCheck, counts bool, past AsFoundBaseline) record.End {
	placed := counts && past.sure()
	end := record.End{Outcome: record.RestoreDoubt, Do: "play the tape of that run and restore again, or set the head anew with align"}
	switch {
	case h.heard == alike && (placed || math.Abs(h.off) <= 1):
		return record.End{Outcome: record.Restored,
			Say: fmt.Sprintf("the screw is back where %s; by the sound the head is %.1f' from there%s", past.asFound(), h.off, past.giveOrTake(h))}
	case h.heard == alike:
		end.Say = fmt.Sprintf("by the sound the head stands %.1f' from where %s", h.off, past.asFound())
		end.Do = "play the same tape as in that run; if it was the same, seat the blade again and repeat"
	case h.heard == contrary:
		end.Say = fmt.Sprintf("by the jig's count the screw is back where %s, but by the sound the head stands %.1f' from there, with an uncertainty of%s",
			past.asFound(), h.off, figures.PlusMinus(&h.sd, "'"))
		end.Do = "play the same tape as in that run; if it was the same, seat the blade again and repeat"
	case h.heard == unmoved:
		end.Say = fmt.Sprintf("the sound does not follow the screw: the head stays %.1f' from where %s", h.off, past.asFound())
		end.Do = "look for lacquer, a slipping coupling or the blade out of its slot, seat the blade again and repeat; force nothing"
	case counts && past.Found.SlackTakenUp, placed && h.heard == unheard:
		return record.End{Outcome: record.Restored,
			Say: fmt.Sprintf("the screw is back where %s, by the jig's count alone: the sound could not be compared", past.asFound())}
	case h.heard == different:
		end.Say = fmt.Sprintf("the treble is not what it was when %s: the head may stand off by a whole period of the tone", past.asFound())
	case counts:
		end.Say = fmt.Sprintf("the jig is back where %s, but the backlash at that time is not known, and the sound could not be compared", past.asFound())
	default:
		end.Say = fmt.Sprintf("the jig's count is lost and the sound does not show the place: the screw may or may not be back where %s", past.asFound())
	}
	return end
}
