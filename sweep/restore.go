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
	// Early says that the run ended before it had set a head or was back: where it puts
	// as found is less sure than the sound.
	Early bool
	// End is how the run ended, nil if it was cut off, if the screw has been left alone
	// since: it tells where a screw stands whose count is gone.
	End *record.End
	// Left is what was heard as left, with the blade away; nil where the run did not come
	// to that. CountGone says that the jig has turned another screw since, or is another.
	Left      *record.Reading
	CountGone bool
	ToneHz    float64
	// FurtherTonesHz are the tones beside it.
	FurtherTonesHz []float64
}

// Restore puts the screw back as the past run found it. Where the jig has kept
// its count it goes by that, and the sound only confirms it or corrects within
// its own uncertainty; where it has not, by the as-found delay. What was heard
// with the blade off is compared last, when it is away again.
func Restore(ctx context.Context, s Setup, past Past) (record.End, error) {
	s.Plan.ToneHz, s.Plan.FurtherTonesHz = past.ToneHz, past.FurtherTonesHz
	s.Plan.SlackTakenUp = past.Found.SlackTakenUp
	c := begin(s)
	c.back = &wayBack{past: past}
	end, err := c.restore(ctx, past)
	return c.conclude(ctx, end, err)
}

func (c *course) restore(ctx context.Context, past Past) (record.End, error) {
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
		c.tell("restore", "the jig has kept its count (%.1f degrees now); driving to %.1f", now, target)
	case c.back.guessed:
		c.tell("restore", "the jig's count is in doubt: driving to where as found should be, by %.0f degrees; the sound says the rest", target-now)
	default:
		target = now
		c.tell("restore", "the jig's count is not the one of that run; going by the sound")
	}
	if target != now || counts {
		if err := c.goTo(ctx, target, true); err != nil {
			return record.End{}, err
		}
	}
	h, err := c.homeIn(ctx, past, counts)
	if err == nil && !counts {
		h, err = c.otherPeriod(ctx, past, h)
	}
	if err != nil {
		return record.End{}, err
	}
	c.back.homing = h
	if !counts && h.heard == alike {
		c.countFromFound(past.place() + h.offDeg)
	}
	if err := c.leave(ctx, nil, h.reading); err != nil {
		return record.End{}, err
	}
	end := c.proveRestored(sayRestored(h, counts, past), past)
	if !counts && !c.back.guessed {
		end = doubtPeriod(end, h)
	}
	return end, nil
}

// doubtPeriod doubts a good end by a tone alone: whole periods are open.
func doubtPeriod(end record.End, h homing) record.End {
	if end.Outcome == record.Restored && h.reading != nil && h.reading.DelayPeriodUS > 0 {
		end.Outcome = record.RestoreDoubt
		end.Say += fmt.Sprintf("; but a tone leaves whole periods of %.0f' open, and nothing else tells where the screw was", h.reading.DelayPeriodUS/USPerArcmin)
		end.Do = "restore once more on a programme or on several tones, or set the head anew with align"
	}
	return end
}

// countFromFound makes degrees count from as found, by where the screw now stands.
func (c *course) countFromFound(deg float64) {
	c.Jig.SetZero(c.Jig.Zero() + microstepsOf(c.Jig.Profile(), c.screwDeg-deg))
	c.screwDeg = deg
}

// microstepsOf is what the jig counts as its shaft turns by so many degrees forward.
func microstepsOf(p jig.Profile, deg float64) int32 {
	return int32(math.Round(deg * p.MicrostepsPerTurn() / 360 * float64(p.Direction)))
}

// place is where the screw, arriving from the home side, stands as found by the
// jig's count; placed says that it is known and not only where the jig stood,
// with the slack in between.
func (p Past) place() float64 {
	if d := p.Decision; p.placed() && d != nil {
		return d.FoundHomeDeg
	}
	return 0
}

// sure says that the sound is to correct that place within its uncertainty only.
func (p Past) sure() bool { return p.Found.SlackTakenUp || p.placed() && !p.Early }

// slipped says that the screw did not follow the jig in the past run, so that the count does
// not tell where it stands.
func (p Past) slipped() bool {
	return p.End != nil && (p.End.Outcome == record.NotFollowing || p.End.ScrewOffDeg == nil && p.End.RestoreCommand != "")
}

// A decision that puts as found further from where the jig stood than any slack
// is not believed.
func (p Past) placed() bool {
	d := p.Decision
	return p.Found.SlackTakenUp || d != nil && d.FoundHomeOK && math.Abs(d.FoundHomeDeg) <= slackAllowanceDeg
}

// engageAgain energises with the blade off, since a run that broke off may have
// left it in the slot and the rotor may jump, and then has the blade seated. Before that it
// listens whether the head still sounds as it was left: then the tape is that of the run.
func (c *course) engageAgain(ctx context.Context, past Past) error {
	if err := c.ask(ctx, BladeOff); err != nil {
		return err
	}
	if left := past.Left; left != nil && delayUsable(*left) {
		r, raw, err := c.hear(ctx, c.plan.ProofSeconds)
		if err != nil {
			return err
		}
		off := math.Abs(tiltBetween(r, *left))
		c.back.sameTape = c.judge(r, raw) == nil && delayUsable(r) && off < max(1, contradiction*tiltSD(r, *left))
	}
	if err := c.Jig.Energise(ctx); err != nil {
		return err
	}
	return c.handle(ctx, SeatBlade)
}

// SameCount says that a jig counts as it did in the past run. Epochs of two jigs may be
// alike: one that has started less often since is another, and so is one whose screw
// turns otherwise by the count.
func (p Past) SameCount(st jig.Status, now jig.Profile) bool {
	return !p.CountGone && st.Epoch == p.Found.Epoch && int16(st.Boot-p.Found.BootCount) >= 0 &&
		now.MicrostepsPerTurn() == p.Found.MicrostepsPerTurn
}

// rejoin makes degrees mean what they meant in the past run, if the count is
// still the same one, and sets the window about where the screw is.
func (c *course) rejoin(ctx context.Context, past Past) (now float64, counts bool, err error) {
	st, err := c.Jig.Status(ctx)
	if err != nil {
		return 0, false, err
	}
	same := past.SameCount(st, c.Jig.Profile())
	lost, seen, err := 0, false, error(nil)
	if same {
		if lost, seen, err = c.lostSteps(ctx, past.Found, st); err != nil {
			return 0, false, err
		}
	}
	counts = same && (st.Memory == jig.Kept || seen) && !past.slipped()
	if counts {
		c.Jig.SetZero(past.Found.PositionMicrosteps + int32(lost))
	} else {
		c.back.guessed = c.guess(past, st)
		if err := c.Jig.Declare(ctx, st.Microsteps); err != nil {
			return 0, false, err
		}
	}
	if st, err = c.Jig.Status(ctx); err != nil {
		return 0, false, err
	}
	c.screwDeg, c.lastDeg, c.epoch = float64(st.Position), float64(st.Position), st.Epoch
	reach := math.Max(c.reach(), math.Abs(c.screwDeg)+slackAllowanceDeg+float64(c.Jig.Profile().OvershootDegrees))
	c.windowDeg = reach - float64(c.Jig.Profile().OvershootDegrees) - 1
	return c.screwDeg, counts, c.Jig.SetWindow(ctx, jig.Degrees(-reach), jig.Degrees(reach))
}

// guess makes degrees mean about what they meant in the past run, by a count in doubt or by
// where the last end had the screw: good enough to go near as found, where the sound, in
// which a tone leaves whole periods open, says the rest. Without either, degrees count from
// where the jig stands.
func (c *course) guess(past Past, st jig.Status) bool {
	switch end := past.End; {
	case past.SameCount(st, c.Jig.Profile()) && st.Memory == jig.Doubtful && !past.slipped():
		c.Jig.SetZero(past.Found.PositionMicrosteps)
	case end != nil && end.ScrewOffDeg != nil && end.ScrewOffSDDeg < mostGuessDeg:
		now := c.likelyFound(past) - lagDeg*c.homeSide() + *end.ScrewOffDeg
		c.Jig.SetZero(st.Microsteps - microstepsOf(c.Jig.Profile(), now))
	default:
		c.Jig.SetZero(st.Microsteps)
		return false
	}
	return true
}

// mostGuessDeg is how well the place of a screw must be known to go by it, degrees.
const mostGuessDeg = 15

// lostSteps is by how many microsteps the count is ahead of the shaft, where an encoder
// sees that and has seen it as found. A rotor falls behind by whole rounds of four full
// steps; how it stands within them depends on whether the motor is on.
func (c *course) lostSteps(ctx context.Context, found record.Found, st jig.Status) (lost int, seen bool, err error) {
	if found.ShaftAngle == nil {
		return 0, false, nil
	}
	angle, seen, err := c.Jig.ShaftAngle(ctx)
	if err != nil || !seen {
		return 0, false, err
	}
	round := jig.RoundFullSteps * c.Jig.Profile().Microsteps
	ahead := c.Jig.Ahead(*found.ShaftAngle, angle, float64(st.Microsteps)-float64(found.PositionMicrosteps))
	lost = round * int(math.Round(ahead/float64(round)))
	if lost != 0 || st.Memory != jig.Kept {
		c.tell("restore", "the encoder on the shaft puts the jig's count right by %d microsteps", -lost)
	}
	return lost, true, nil
}

// homeTries is how often the sound may correct the position, homeArcmin what it
// leaves alone: two readings of four seconds differ by as much through wander.
// sameTrebleDB is how far the treble of a tone may differ at one tilt.
const (
	homeTries    = 4
	homeArcmin   = 0.25
	sameTrebleDB = 4
)

// contradiction is how many standard deviations the sound may differ from a
// count that was kept.
const contradiction = 3

// likeness is what the sound says of being back as found.
type likeness int

const (
	unheard   likeness = iota // it cannot be compared
	alike                     // the delay tells how far off the head is
	different                 // the treble is another: another tape, or a whole period of the tone away
	contrary                  // by the delay the head is off though the count was kept
	unmoved                   // the sound does not follow the screw
)

// homing is how far from as found the head is by the sound, with its standard
// deviation, in arcmin, and the last that was heard.
type homing struct {
	off, sd float64
	heard   likeness
	reading *record.Reading
	offDeg  float64 // off, as degrees of screw
	sdDeg   float64
}

// homeIn compares the delay with the as-found one and corrects what differs.
// Where the count was kept and says where the screw stood, the sound only
// corrects within its own uncertainty: what differs by more is told, and the
// screw stays where the count has it. With slack that was taken up the count is
// exact.
func (c *course) homeIn(ctx context.Context, past Past, counts bool) (homing, error) {
	want := past.heard()
	if want == nil || !delayUsable(*want) {
		return homing{}, nil
	}
	perDeg, signKnown := c.gearingOf(past)
	exact := counts && past.Found.SlackTakenUp
	counted := c.screwDeg
	var h homing
	var seen []offAt
	for try := 0; ; try++ {
		r, err := c.listen(ctx, c.plan.ProofSeconds)
		switch {
		case err != nil:
			return homing{}, err
		case !delayUsable(r) && counts: // what an earlier reading has corrected cannot be confirmed
			return homing{}, c.stayAt(ctx, counted)
		case !delayUsable(r):
			return homing{}, nil
		}
		now := tiltBetween(r, *want)
		if try == 1 && !signKnown && math.Abs(now) > math.Abs(h.off) {
			// The gearing has the other sign: the head went as far away again.
			perDeg = -perDeg
			if r.DelayPeriodUS > 0 {
				now = 2*h.off + math.Remainder(now-2*h.off, r.DelayPeriodUS/USPerArcmin)
			}
		}
		if len(seen) > 0 && seen[len(seen)-1].unmovedAt(c.screwDeg, now, perDeg, past.homeSD(r), r.DelayPeriodUS/USPerArcmin) {
			return homing{off: now, sd: past.homeSD(r), heard: unmoved, reading: &r}, nil
		}
		seen = append(seen, offAt{c.screwDeg, now})
		target := homeTarget(seen, perDeg)
		h = homing{(c.screwDeg - target) * perDeg, past.homeSD(r), alike, &r, c.screwDeg - target, past.homeSD(r) / math.Abs(perDeg)}
		c.tell("restore", "%.2f' from as found", h.off)
		if try == 0 && counts {
			c.noteLostSteps(h.off, h.sd, perDeg)
		}
		if off := (counted - target) * perDeg; counts && math.Abs(off) > c.believed(past, h.sd, perDeg) {
			h.off, h.heard = off, contrary
			return h, c.stayAt(ctx, counted)
		}
		near := homeArcmin
		if c.back != nil && c.trip == nil { // nothing was turned, and a turn would cost the place in the slot
			near = max(near, h.sd)
		}
		if exact || math.Abs(h.off) < near || try == homeTries-1 {
			if r.DelayPeriodUS > 0 && math.Abs(r.TrebleDB-want.TrebleDB) > sameTrebleDB {
				h.heard = different
			}
			return h, nil
		}
		if err := c.goTo(ctx, target, true); err != nil {
			return homing{}, err
		}
	}
}

// heard is as found with the blade seated, or where the run did not come to that,
// with the blade off.
func (p Past) heard() *record.Reading {
	if p.Found.Seated != nil {
		return p.Found.Seated
	}
	return p.Found.BladeOff
}

// homeSD is the standard deviation in arcmin of a reading against as found, at
// the place where the count has it.
func (p Past) homeSD(r record.Reading) float64 {
	place := homeArcmin
	if d := p.Decision; d != nil && !p.Found.SlackTakenUp {
		place = max(place, d.FoundHomeSDArcmin)
	}
	return math.Hypot(tiltSD(r, *p.heard()), place)
}

// believed is the greatest difference between the sound and a kept count, in arcmin, at
// which the sound corrects the count: the sound's uncertainty (sd) times contradiction. If
// the slack is not known, or the tape is that of the run, it is the tilt that the greatest
// slack makes, times two because perDeg may not be known well.
func (c *course) believed(past Past, sd, perDeg float64) float64 {
	sameTape := c.back != nil && c.back.sameTape && !past.Found.SlackTakenUp
	if past.sure() && !sameTape {
		return contradiction * sd
	}
	return 2 * slackAllowanceDeg * math.Abs(perDeg)
}

// stayAt goes back to a place that was left.
func (c *course) stayAt(ctx context.Context, deg float64) error {
	if c.screwDeg == deg {
		return nil
	}
	return c.goTo(ctx, deg, true)
}

// offAt is how far from as found the head was heard, in arcmin, with the screw
// there.
type offAt struct{ deg, off float64 }

// unmovedAt reports whether the head has stayed at the tilt that was heard though the screw was turned,
// further than the readings differ by themselves: the blade is out of its slot, or the
// coupling slips. The gearing per degree need not be known well.
func (s offAt) unmovedAt(deg, off, perDeg, sd, periodArcmin float64) bool {
	const clearArcmin, clearSDs, least = 2, 4, 0.25
	turned, change := math.Abs((deg-s.deg)*perDeg), off-s.off
	if periodArcmin > 0 {
		change = math.Remainder(change, periodArcmin)
	}
	return turned > max(clearArcmin, clearSDs*sd) && math.Abs(change) < least*turned
}

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
	if period := max(a.DelayPeriodUS, b.DelayPeriodUS); period > 0 {
		d = math.Remainder(d, period)
	}
	return d / USPerArcmin
}

// tiltSD is the standard deviation of tiltBetween, arcmin.
func tiltSD(a, b record.Reading) float64 { return math.Hypot(ownSD(a), ownSD(b)) }

// ownSD is the standard deviation of a reading's tilt, arcmin. In a short one the
// wander of the tape shows less than it is: what it may usually be counts too.
func ownSD(r record.Reading) float64 {
	return max(r.DelaySDUS/USPerArcmin, anyWander.meanSD(r.Seconds))
}

// proveRestored compares the head with the blade away as well: a good end is in
// doubt where that is not as it was found.
func (c *course) proveRestored(end record.End, past Past) record.End {
	now, want := c.left.Released, past.Found.BladeOff
	if end.Outcome != record.Restored || now == nil || want == nil || !delayUsable(*now) || !delayUsable(*want) {
		return end
	}
	off := tiltBetween(*now, *want)
	if math.Abs(off) <= max(1, contradiction*past.betweenSD(*now, *want)) {
		return end
	}
	return record.End{Outcome: record.RestoreDoubt,
		Say: fmt.Sprintf("%s; but with the blade away the head stands %.1f' from as %s", end.Say, off, past.asFound()),
		Do:  "look whether the blade tilts the head or turns the screw as it is withdrawn, then restore again"}
}

// sayRestored is how a restore ended. A count that was kept says where the screw
// was found only where the slack at that time is known.
func sayRestored(h homing, counts bool, past Past) record.End {
	placed := counts && past.sure()
	end := record.End{Outcome: record.RestoreDoubt, Do: "play the tape of that run and restore again, or set the head anew with align"}
	switch {
	case h.heard == alike && (placed || math.Abs(h.off) <= 1):
		return record.End{Outcome: record.Restored,
			Say: fmt.Sprintf("the screw is back as %s; by the sound %.1f' from as found%s", past.asFound(), h.off, past.giveOrTake(h))}
	case h.heard == alike:
		end.Say = fmt.Sprintf("by the sound the head stands %.1f' from as %s", h.off, past.asFound())
		end.Do = "play the same tape as in that run; if it was the same, seat the blade again and repeat"
	case h.heard == contrary:
		end.Say = fmt.Sprintf("by the jig's count the screw is back as %s, but by the sound the head stands %.1f' from there, where %.1f' would be the uncertainty",
			past.asFound(), h.off, h.sd)
		end.Do = "play the same tape as in that run; if it was the same, seat the blade again and repeat"
	case h.heard == unmoved:
		end.Say = fmt.Sprintf("the sound does not follow the screw: the head stays %.1f' from as %s", h.off, past.asFound())
		end.Do = "look for lacquer, a slipping coupling or the blade out of its slot, seat the blade again and repeat; force nothing"
	case counts && past.Found.SlackTakenUp, placed && h.heard == unheard:
		return record.End{Outcome: record.Restored,
			Say: fmt.Sprintf("the screw is back as %s, by the jig's count alone; the sound could not be compared", past.asFound())}
	case h.heard == different:
		end.Say = fmt.Sprintf("the treble is not as %s: the head may stand off by a whole period of the tone", past.asFound())
	case counts:
		end.Say = fmt.Sprintf("the jig is back as %s, but how much slack there was is not known, and the sound could not be compared", past.asFound())
	default:
		end.Say = fmt.Sprintf("whether the screw is back as %s is not known: neither the jig's count nor the sound tells", past.asFound())
	}
	return end
}

// asFound says by which run the screw was found as it is to stand again.
func (p Past) asFound() string {
	if p.Run == "" {
		return "it was found"
	}
	return fmt.Sprintf("run %s found it", p.Run)
}
