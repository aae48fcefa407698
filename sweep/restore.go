package sweep

import (
	"context"
	"fmt"
	"math"

	"headtrue/jig"
	"headtrue/sweep/record"
)

// Past is what a restore needs of the run it goes back behind.
type Past struct {
	Run      string
	Found    record.Found
	Decision *record.Decision // nil where the run ended before it decided
	ToneHz   float64
}

// Restore puts the screw back as the past run found it. Where the jig has kept
// its count it goes by that; where it has not, by the as-found delay. Without
// sound (Setup.Sound nil is not allowed, but a source that is silent is) the
// count alone decides.
func Restore(ctx context.Context, s Setup, past Past) (record.End, error) {
	s.Plan.ToneHz = past.ToneHz
	s.Plan.SlackTakenUp = past.Found.SlackTakenUp
	c := begin(s)
	return c.conclude(c.restore(ctx, past))
}

func (c *course) restore(ctx context.Context, past Past) (record.End, error) {
	now, counts, err := c.rejoin(ctx, past)
	if err != nil {
		return record.End{}, err
	}
	// a run that broke off may have left it in the slot, and the rotor may jump
	if err := c.ask(ctx, BladeOff); err != nil {
		return record.End{}, err
	}
	if err := c.Jig.Energise(ctx); err != nil {
		return record.End{}, err
	}
	if err := c.ask(ctx, SeatBlade); err != nil {
		return record.End{}, err
	}
	if err := c.passSeconds(ctx, engageSeconds); err != nil {
		return record.End{}, err
	}
	target := 0.0
	if past.Decision != nil && past.Decision.FoundHomeOK {
		target = past.Decision.FoundHomeDeg
	}
	if counts {
		c.tell("restore", "the jig has kept its count (%.1f degrees now); driving to %.1f", now, target)
		if err := c.goTo(ctx, target, true); err != nil {
			return record.End{}, err
		}
	} else {
		c.tell("restore", "the jig's count is not the one of that run; going by the sound")
	}
	off, heard, err := c.homeIn(ctx, past, counts)
	if err != nil {
		return record.End{}, err
	}
	if err := c.leave(ctx, nil); err != nil {
		return record.End{}, err
	}
	return sayRestored(off, heard, counts, past), nil
}

// rejoin makes degrees mean what they meant in the past run, if the count is
// still the same one, and sets the window about where the screw is. Epochs of two
// jigs may be alike: one that has started less often since is another, and so is
// one whose screw turns otherwise by the count.
func (c *course) rejoin(ctx context.Context, past Past) (now float64, counts bool, err error) {
	st, err := c.Jig.Status(ctx)
	if err != nil {
		return 0, false, err
	}
	counts = st.Memory == jig.Kept && st.Epoch == past.Found.Epoch &&
		int16(st.Boot-past.Found.BootCount) >= 0 &&
		c.Jig.Profile().MicrostepsPerTurn() == past.Found.MicrostepsPerTurn
	if counts {
		c.Jig.SetZero(past.Found.PositionMicrosteps)
	} else {
		if err := c.Jig.Declare(ctx, st.Microsteps); err != nil {
			return 0, false, err
		}
		c.Jig.SetZero(st.Microsteps)
	}
	if st, err = c.Jig.Status(ctx); err != nil {
		return 0, false, err
	}
	c.screwDeg = float64(st.Position)
	reach := math.Max(c.reach(), math.Abs(c.screwDeg)+float64(c.Jig.Profile().OvershootDegrees))
	return c.screwDeg, counts, c.Jig.SetWindow(ctx, jig.Degrees(-reach), jig.Degrees(reach))
}

// homeTries is how often the sound may correct the position, homeArcmin what it
// leaves alone: two readings of four seconds differ by as much through wander.
// sameTrebleDB is how far the treble of a tone may differ at one tilt.
const (
	homeTries    = 4
	homeArcmin   = 0.25
	sameTrebleDB = 4
)

// likeness is what the sound says of being back as found.
type likeness int

const (
	unheard   likeness = iota // it cannot be compared
	alike                     // the delay tells how far off the head is
	different                 // the treble is another: another tape, or a whole period of the tone away
)

// homeIn compares the delay with the as-found one and corrects what differs.
// With a count that was kept and slack that was taken up the position is exact
// and is left alone.
func (c *course) homeIn(ctx context.Context, past Past, counts bool) (off float64, heard likeness, err error) {
	want := past.Found.Seated
	if want == nil {
		want = past.Found.BladeOff
	}
	if want == nil || !delayUsable(*want) {
		return 0, unheard, nil
	}
	perDeg, signKnown := c.gearingOf(past)
	exact := counts && past.Found.SlackTakenUp
	var seen []offAt
	for try := 0; ; try++ {
		r, err := c.listen(ctx, c.plan.ProofSeconds)
		if err != nil || !delayUsable(r) {
			return 0, unheard, err
		}
		now := tiltBetween(r, *want)
		if try == 1 && !signKnown && math.Abs(now) > math.Abs(off) {
			// The gearing has the other sign: the head went as far away again.
			perDeg = -perDeg
			if r.DelayPeriodUS > 0 {
				now = 2*off + math.Remainder(now-2*off, r.DelayPeriodUS/USPerArcmin)
			}
		}
		seen = append(seen, offAt{c.screwDeg, now})
		target := homeTarget(seen, perDeg)
		off = (c.screwDeg - target) * perDeg
		c.tell("restore", "%.2f' from as found", off)
		if exact || math.Abs(off) < homeArcmin || try == homeTries-1 {
			if r.DelayPeriodUS > 0 && math.Abs(r.TrebleDB-want.TrebleDB) > sameTrebleDB {
				return off, different, nil
			}
			return off, alike, nil
		}
		if err := c.goTo(ctx, target, true); err != nil {
			return 0, unheard, err
		}
	}
}

// offAt is how far from as found the head was heard, in arcmin, with the screw
// there.
type offAt struct{ deg, off float64 }

// homeTarget is where as found lies by all that was heard: music gives each
// reading another error, and following the newest alone would walk about. From
// a place far off it is told less well, since the gearing is not exact.
func homeTarget(seen []offAt, perDeg float64) float64 {
	const farArcmin = 2
	var sum, weights float64
	for _, s := range seen {
		w := 1 / (1 + math.Pow(s.off/farArcmin, 2))
		sum += w * (s.deg - s.off/perDeg)
		weights += w
	}
	return sum / weights
}

// gearingOf is the gearing in arcmin per degree: as the past run measured it,
// else as the plan has it, whose sign may be unknown.
func (c *course) gearingOf(past Past) (perDeg float64, signKnown bool) {
	if d := past.Decision; d != nil && d.GearingArcminPerTurn != 0 {
		return d.GearingArcminPerTurn / 360, true
	}
	return c.plan.GearingArcminPerTurn / 360, c.plan.GearingSignKnown
}

// tiltBetween is the tilt from b to a in arcmin by their delays; for a tone the
// smallest that fits.
func tiltBetween(a, b record.Reading) float64 {
	d := a.DelayUS - b.DelayUS
	if a.DelayPeriodUS > 0 {
		d = math.Remainder(d, a.DelayPeriodUS)
	}
	return d / USPerArcmin
}

// sayRestored is how a restore ended. A count that was kept says where the screw
// was found only where the slack at that time is known.
func sayRestored(off float64, heard likeness, counts bool, past Past) record.End {
	slackKnown := past.Found.SlackTakenUp || past.Decision != nil && past.Decision.FoundHomeOK
	end := record.End{Outcome: record.RestoreDoubt, Do: "play the tape of that run and restore again, or set the head anew with align"}
	switch {
	case heard == alike && math.Abs(off) <= 1:
		return record.End{Outcome: record.Restored,
			Say: fmt.Sprintf("the screw is back as run %s found it; by the sound %.1f' from as found", past.Run, off)}
	case heard == alike:
		end.Say = fmt.Sprintf("by the sound the head stands %.1f' from as run %s found it", off, past.Run)
		end.Do = "play the same tape as in that run; if it was the same, seat the blade again and repeat"
	case counts && past.Found.SlackTakenUp, counts && slackKnown && heard == unheard:
		return record.End{Outcome: record.Restored,
			Say: fmt.Sprintf("the screw is back at the position where run %s found it, by the jig's count alone; the sound could not be compared", past.Run)}
	case heard == different:
		end.Say = fmt.Sprintf("the treble is not what run %s found: the head may stand off by a whole period of the tone", past.Run)
	case counts:
		end.Say = fmt.Sprintf("the jig is back where run %s found it, but how much slack there was is not known, and the sound could not be compared", past.Run)
	default:
		end.Say = fmt.Sprintf("neither the jig's count nor the sound tells where run %s found the screw", past.Run)
	}
	return end
}
