package sweep

import (
	"cmp"
	"context"
	"fmt"
	"math"

	"headtrue/dsp"
	"headtrue/jig"
	"headtrue/sweep/estimate"
	"headtrue/sweep/record"
	"headtrue/sweep/session"
)

// Verdicts of a check.
const (
	Pass    = "pass"
	Doubt   = "doubt"
	Fail    = "fail"
	Unknown = "unknown"
)

// readySeconds is the listening time of the ready step before anything moves.
const readySeconds = 3

// Ready does the ready step alone: link, sound, and the noise of the motor as it holds and
// steps. The blade must be off the screw; the motor turns a little and back. EndOf explains
// an error.
func Ready(ctx context.Context, s Setup) (record.Checks, error) {
	c := begin(s)
	c.Tell("ready", "checking link and sound")
	list, err := c.readiness(ctx)
	if stop := c.StandStill(); err != nil || stop != nil {
		err = &session.Halted{Cause: cmp.Or(err, stop), Stop: stop}
	}
	return record.Checks{Checks: list}, err
}

// trySeconds is the listening time of Try.
const trySeconds = 1

// Try listens whether there is a tape, without a jig, and returns the levels of the channels
// in dBFS. The error is the reason why a run could not use the sound.
func Try(ctx context.Context, s Setup) (levelDBFS [2]float64, err error) {
	s.Jig = nil // nothing can turn
	c := begin(s)
	r, raw, err := c.Hear(ctx, trySeconds)
	if err == nil {
		err = c.Judge(r, raw)
	}
	if err == nil {
		err = c.checkPlayed(r)
	}
	return r.LevelDBFS, err
}

func (c *course) readiness(ctx context.Context) ([]record.Check, error) {
	list, r, err := c.checks(ctx)
	if err != nil || !c.HasJig() {
		return list, err
	}
	noise, err := c.motorNoise(ctx, r)
	return append(list, noise...), err
}

// ready is the short form at the start of every run: it returns an error if a check fails.
func (c *course) ready(ctx context.Context) error {
	c.Tell("ready", "checking link and sound")
	list, _, err := c.checks(ctx)
	if err != nil {
		return err
	}
	if err := c.Save(record.Entry{Kind: record.KindChecks, Checks: &record.Checks{Checks: list}}); err != nil {
		return err
	}
	for _, ch := range list {
		switch {
		case ch.Verdict == Doubt:
			c.Warn("ready", "%s: %s; %s", ch.Name, ch.Found, ch.Do)
		case ch.Name == whatSets && c.HasJig():
			c.Tell("ready", "%s: %s", ch.Name, ch.Found)
		}
	}
	return nil
}

// checks listens before anything moves. Unusable sound ends it with an error; every other
// result becomes a line of the table.
func (c *course) checks(ctx context.Context) ([]record.Check, dsp.Reading, error) {
	var list []record.Check
	add := func(name, verdict, do, format string, args ...any) {
		ch := record.Check{Name: name, Verdict: verdict, Found: fmt.Sprintf(format, args...)}
		if verdict != Pass {
			ch.Do = do
		}
		list = append(list, ch)
	}
	if c.HasJig() {
		c.checkLink(add)
	}
	if err := c.CatchUp(ctx); err != nil {
		return list, dsp.Reading{}, err
	}
	r, raw, by, err := c.HearByBothClocks(ctx, readySeconds)
	if err != nil {
		return list, raw, err
	}
	if by != nil {
		checkRate(add, by.Sound, by.Jig)
	}
	if trouble := c.Judge(r, raw); trouble != nil {
		add("sound", Fail, session.PlainEnd(trouble).Do, "%s", trouble.Error())
		return list, raw, trouble
	}
	if trouble := c.checkPlayed(r); trouble != nil {
		add("what is played", Fail, session.PlainEnd(trouble).Do, "%s", trouble.Error())
		return list, raw, trouble
	}
	c.checkSound(add, r, raw)
	c.checkOutlook(add, r)
	c.checkWhatSets(add, r, raw)
	return list, raw, nil
}

type adder func(name, verdict, do, format string, args ...any)

// doubt adds a check that passes unless it is bad.
func (add adder) doubt(name string, bad bool, do, format string, args ...any) {
	verdict := Pass
	if bad {
		verdict = Doubt
	}
	add(name, verdict, do, format, args...)
}

func (c *course) checkLink(add adder) {
	g := c.Greeting()
	add("link", Pass, "", "%s, boot %d", g.Firmware, g.BootCount)
	if clockWrapsEarly(g.Firmware) {
		add("jig's clock", Doubt, "headtrue jig flash writes the newer firmware onto the board",
			"it wraps after 35 min 47 s, and a move under way at that moment stops")
	}
	add.doubt("position memory", g.Memory != jig.Kept, "as found is where the screw stands now; an earlier run can only be restored by the sound", "%v", g.Memory)
}

// clockWrapsEarly reports whether a firmware counts time only to 2^31 us: version 1.0 of the
// image in this program. LINK.md section 3 requires 2^32.
func clockWrapsEarly(firmware string) bool { return firmware == "headtrue 1.0" }

// checkRate compares the sound's clock with the jig's.
func checkRate(add adder, soundSeconds, jigSeconds float64) {
	off := soundSeconds/jigSeconds - 1
	add.doubt("true rate", math.Abs(off) > 0.05 || jigSeconds <= 0, "set the device and headtrue to the same sampling rate", "sound runs %+.1f %% against the jig's clock", 100*off)
}

func (c *course) checkSound(add adder, r record.Reading, raw dsp.Reading) {
	level := max(r.LevelDBFS[0], r.LevelDBFS[1])
	add.doubt("level", level < -45, "raise the input level; -30 to -10 dBFS is good", "left %.1f, right %.1f dBFS", r.LevelDBFS[0], r.LevelDBFS[1])
	add.doubt("clipping", raw.ClippedFrames > 0, "lower the input level", "%d of %d frames", raw.ClippedFrames, raw.Frames)
	dc := max(math.Abs(raw.DC[0]), math.Abs(raw.DC[1]))
	add.doubt("DC offset", dc > 0.01, "harmless to the measurement; a microphone input often has it: use the line input", "%.4f of full scale", dc)
	hum := float64(max(raw.Hum[0], raw.Hum[1]))
	if c.Plan.ToneHz > 0 {
		add.doubt("hum", hum > level-20, "check the earth of deck, jig and computer; never remove a protective earth", "%.0f dBFS", hum)
	} else {
		add("hum", Unknown, "the music's own bass counts too: stop the tape and measure the input to know", "%.0f dBFS or less", hum)
	}
	balance := r.LevelDBFS[0] - r.LevelDBFS[1]
	add.doubt("balance", math.Abs(balance) > 6, "clean the head; set the balance control to the middle", "left %+.1f dB against right", balance)
	add("automatic gain", Unknown, "switch it off at the input, with all voice processing; a run on a tone watches for it", "cannot be heard while the level stays")
	add("which channel is left", Unknown, "needs an identification on the tape, or a gearing with a sign", "cannot be heard from the sound alone")
	if c.Plan.ToneHz > 0 {
		add("polarity", Unknown, "cannot be told on a tone; check with programme material", "a tone is on the tape")
		add.doubt("tone", !session.ToneThere(raw), "start the tone; check its frequency; a head far off can lose it", "%.0f Hz, %.1f dBFS, %.0f dB above noise", raw.ToneHz, r.TrebleDB, float64(max(raw.ToneToNoise[0], raw.ToneToNoise[1])))
		return
	}
	add.doubt("polarity", raw.Correlation < 0.1, "the channels have little in common: mono in both channels would be better", "correlation %.2f", raw.Correlation)
	add.doubt("treble", r.TrebleDB < -30, "play a passage with cymbals; a head far off sounds as dull", "%.1f dB against the mid band", r.TrebleDB)
	add.doubt("delay", !estimate.DelayUsable(r), "the level alone must do; it takes longer", "%.1f us +- %.1f, coherence %.2f", r.DelayUS, r.DelaySDUS, r.Coherence)
	second, ok := raw.Straight.SecondSource()
	add.doubt("one source", ok && second > doubtfulSource, "sources with delays of their own (spaced microphones, effects) shift the delay, so that the treble has to set the head: a tone or a mono recording is quicker", "the phase strays from the line of one delay by %.1f standard deviations, about 2 being chance", second)
}

// doubtfulSource is the significance from which the ready step reports a second source. It
// has only a few seconds, often with the head far off: one in twenty passages of the clean
// pieces of sweep/bench/grid shows more.
const doubtfulSource = 3.6

// checkOutlook reports the uncertainty that this passage can reach, and the remedy if the
// fixed delay of the channels limits it.
func (c *course) checkOutlook(add adder, r record.Reading) {
	x := c.Plan.Outlook(r, estimate.OutlookSeconds)
	if math.IsInf(x, 1) {
		add("outlook", Unknown, "play a passage that both channels share, or a tone", "cannot be judged while the channels have no delay in common")
		return
	}
	verdict, do := Pass, "play a passage with steadier and brighter treble, or a tone; or ask for less by --within"
	if x > c.Plan.WithinArcmin {
		verdict = Doubt
		known := c.Plan
		known.ChannelDelaySDUS = min(known.ChannelDelaySDUS, 0.5)
		if known.Outlook(r, estimate.OutlookSeconds) <= c.Plan.WithinArcmin {
			do = "align this head by a tone once and name it by --unit: that settles the fixed delay of the channels; or ask for less by --within"
		}
	}
	add("outlook", verdict, do, "this passage can settle the azimuth to about %.1f' in %d s; %.2g' is asked for", x, estimate.OutlookSeconds, c.Plan.WithinArcmin)
}

// whatSets is the name of the check that reports what will set the head.
const whatSets = "what sets the head"

// checkWhatSets reports which measurement will set the head on this passage, and after how
// many seconds of tape.
func (c *course) checkWhatSets(add adder, r record.Reading, raw dsp.Reading) {
	if c.Plan.ToneHz > 0 {
		return
	}
	p := c.Plan
	second, ok := raw.Straight.SecondSource()
	p.ByTreble = ok && second > doubtfulSource
	by := "the treble and the delay zero"
	switch {
	case p.ByTreble:
		by = "the treble, since sources of this mix have delays of their own"
	case p.ByDelayAlone():
		by = fmt.Sprintf("the delay between the channels, known to %.1f us", p.ChannelDelaySDUS)
	}
	seconds := p.TapeOutlook(r)
	if math.IsInf(seconds, 1) {
		add(whatSets, Unknown, "play a passage that both channels share, or a tone", "cannot be told while the channels have no delay in common")
		return
	}
	text := fmt.Sprintf("%s, in about %.0f s of tape", by, seconds)
	if !p.ByTreble {
		p.ByTreble = true
		text += fmt.Sprintf("; the treble alone, in about %.0f s, if a second source is heard on the way", p.TapeOutlook(r))
	}
	add(whatSets, Pass, "", "%s", text)
}

// motorNoise compares the sound with the motor off, holding and stepping.
func (c *course) motorNoise(ctx context.Context, off dsp.Reading) ([]record.Check, error) {
	if err := c.Ask(ctx, session.BladeOff); err != nil {
		return nil, err
	}
	c.Tell("motor", "listening to the motor as it holds and steps")
	holding, err := c.HearHolding(ctx)
	if err != nil {
		return nil, err
	}
	list := []record.Check{compareNoise("noise, holding", off, holding)}
	stepping, err := c.HearStepping(ctx)
	if err != nil {
		return list, err
	}
	return append(list, compareNoise("noise, stepping", off, stepping)), nil
}

// compareNoise compares the hum, the band in which a chopper or a motor appears first.
func compareNoise(name string, off, on dsp.Reading) record.Check {
	rise := float64(max(on.Hum[0]-off.Hum[0], on.Hum[1]-off.Hum[1]))
	ch := record.Check{Name: name, Verdict: Pass, Found: fmt.Sprintf("hum %+.1f dB against the motor off", rise)}
	if rise > 6 {
		ch.Verdict = Doubt
		ch.Do = "move the motor away from the head, lower the hold current, separate the supplies"
	}
	return ch
}
