package sweep

import (
	"fmt"
	"math"
	"strings"

	"headtrue/dsp"
	"headtrue/firmware-protocol/firmware"
	"headtrue/jig"
	"headtrue/sweep/estimate"
	"headtrue/sweep/faults"
	"headtrue/sweep/figures"
	"headtrue/sweep/record"
)

// checkList are the lines of the ready step.
type checkList []record.Check

// words adds a line without a number.
func (l *checkList) words(name, verdict, found, do string) {
	if verdict == Pass {
		do = ""
	}
	*l = append(*l, record.Check{Name: name, Verdict: verdict, Found: found, Do: do})
}

// limited is a number with its limits: NaN is none.
type limited struct {
	value, atLeast, atMost float64
	unit                   string
}

func atLeast(value, limit float64, unit string) limited {
	return limited{value, limit, math.NaN(), unit}
}
func atMost(value, limit float64, unit string) limited {
	return limited{value, math.NaN(), limit, unit}
}

// number adds a line that is in doubt if its number is beyond a limit.
func (l *checkList) number(name string, n limited, do, format string, args ...any) {
	known := func(x float64) *float64 {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return nil
		}
		return &x
	}
	ch := record.Check{Name: name, Verdict: Pass, Value: known(n.value), AtLeast: known(n.atLeast), AtMost: known(n.atMost), Unit: n.unit,
		Found: fmt.Sprintf(format, args...)}
	if n.value < n.atLeast || n.value > n.atMost { // false without a limit
		ch.Verdict, ch.Do = Doubt, do
	}
	*l = append(*l, ch)
}

func (c *course) checkLink(l *checkList) {
	g := c.Greeting()
	l.words("jig", Pass, fmt.Sprintf("answers: firmware %s, start number %d", g.Firmware, g.BootCount), "")
	if firmware.Older(g.Firmware) {
		found := fmt.Sprintf("older than that of this program, %s", firmware.Version())
		if clockWrapsEarly(g.Firmware) {
			found += "; its clock starts anew after 35 min 47 s, and a move under way at that moment stops"
		}
		l.words("jig's firmware", Doubt, found, "write the newer one onto the board: headtrue jig flash")
	}
	switch g.Memory {
	case jig.Kept:
		l.words("count of the screw", Pass, "the jig has kept it", "")
	case jig.Doubtful:
		l.words("count of the screw", Doubt, "the jig was cut off while the screw turned: its count may be wrong",
			"this run can be made; an earlier run is put back by the sound, not by the count")
	default:
		l.words("count of the screw", Unknown, "the jig begins to count at this place", "nothing for this run; an earlier run can be put back by the sound only")
	}
}

// clockWrapsEarly reports whether a firmware counts time only to 2^31 us: version 1.0 of the
// image in this program. LINK.md section 3 requires 2^32.
func clockWrapsEarly(firmware string) bool { return firmware == "headtrue 1.0" }

// checkRate compares the sound's clock with the jig's.
func checkRate(l *checkList, soundSeconds, jigSeconds float64) {
	const most = 5
	off := math.Inf(1)
	if jigSeconds > 0 {
		off = 100 * (soundSeconds/jigSeconds - 1)
	}
	l.number("sampling rate", limited{off, -most, most, "%"}, "set the sound device and headtrue to the same sampling rate",
		"the sound's clock runs %+.1f %% against the jig's; %d %% is the limit", off, most)
}

// Limits of levels.
const (
	leastLevelDBFS = -45
	mostDC         = 0.01
	humBelowDB     = 20
	mostBalanceDB  = 6
)

func (c *course) checkLevels(l *checkList, r record.Reading, raw dsp.Reading) {
	c.checkStrength(l, r, raw)
	balance := r.LevelDBFS[0] - r.LevelDBFS[1]
	l.number("balance", limited{balance, -mostBalanceDB, mostBalanceDB, "dB"}, "clean the head; set the balance control to the middle",
		"left %+.1f dB against right; %d is the limit", balance, mostBalanceDB)
	l.words("automatic gain", Unknown, "it shows only when the level changes", "switch it off at the input, with all voice processing; a run on a tone watches for it")
	l.words("left and right", Unknown, "by the sound alone the channels cannot be named", "play a tape that says which channel is left")
}

// checkStrength checks what each channel shows by itself.
func (c *course) checkStrength(l *checkList, r record.Reading, raw dsp.Reading) {
	level := max(r.LevelDBFS[0], r.LevelDBFS[1])
	l.number("level", atLeast(level, leastLevelDBFS, "dBFS"), "raise the input level: -30 to -10 dBFS is good",
		"left %.1f, right %.1f dBFS; %d is the least", r.LevelDBFS[0], r.LevelDBFS[1], leastLevelDBFS)
	l.number("clipping", atMost(float64(raw.ClippedFrames), 0, "frames"), "lower the input level", "%d of %d frames; none is allowed", raw.ClippedFrames, raw.Frames)
	dc := max(math.Abs(raw.DC[0]), math.Abs(raw.DC[1]))
	l.number("DC offset", atMost(dc, mostDC, "of full scale"), "a microphone input often has it: use the line input (it does not harm the measurement)",
		"%.4f of full scale; %g is the limit", dc, mostDC)
	hum := float64(max(raw.Hum[0], raw.Hum[1]))
	if c.Plan.ToneHz > 0 {
		l.number("hum", atMost(hum, level-humBelowDB, "dBFS"), "check the earth of deck, jig and computer; never remove a protective earth",
			"%.0f dBFS; %.0f is the limit", hum, level-humBelowDB)
	} else {
		l.words("hum", Unknown, fmt.Sprintf("at most %.0f dBFS: the bass of the music counts too", hum), "to measure it, stop the tape and measure the input")
	}
}

func checkTone(l *checkList, r record.Reading, raw dsp.Reading) {
	l.words("polarity", Unknown, "a tone does not show it", "check with music")
	l.tone(r, raw)
}

// tone checks that the tone is there.
func (l *checkList) tone(r record.Reading, raw dsp.Reading) {
	verdict := Pass
	if !faults.ToneThere(raw) {
		verdict = Doubt
	}
	l.words("tone", verdict, fmt.Sprintf("%.0f Hz at %.1f dBFS, %.0f dB above the noise", raw.ToneHz, r.TrebleDB, float64(max(raw.ToneToNoise[0], raw.ToneToNoise[1]))),
		"start the tone and check its frequency; a head that is far off can lose it")
}

// Limits of a programme.
const (
	leastCorrelation = 0.1
	leastTrebleDB    = -30
)

func checkProgramme(l *checkList, r record.Reading, raw dsp.Reading) {
	l.number("polarity", atLeast(raw.Correlation, leastCorrelation, ""), "the channels have little in common: play a mono recording, or look whether a plug is wired the wrong way round",
		"correlation of the channels %.2f; %g is the least", raw.Correlation, leastCorrelation)
	l.treble(r)
	delay := record.Check{Name: "delay", Verdict: Pass, Value: &r.DelayUS, Unit: "us", Found: fmt.Sprintf("%.1f us%s (95 %%), coherence %.2f", r.DelayUS, figures.PlusMinus(&r.DelaySDUS, ""), r.Coherence)}
	if !estimate.DelayUsable(r) {
		delay.Verdict, delay.Do = Doubt, "the treble alone sets the head, which takes longer; a tone or a mono recording is quicker"
	}
	*l = append(*l, delay)
	if second, ok := raw.Straight.SecondSource(); ok {
		l.number("one delay", atMost(second, doubtfulSource, "deviations"), "instruments have delays of their own in this recording, so the treble sets the head; a tone or a mono recording is quicker",
			"the sound differs from one with a single delay by %.1f deviations; %g is the limit, and about 2 is chance", second, doubtfulSource)
	}
}

// treble checks that a programme has treble.
func (l *checkList) treble(r record.Reading) {
	l.number("treble", atLeast(r.TrebleDB, leastTrebleDB, "dB"), "play a passage with cymbals (a head that is far off sounds as dull)",
		"%.1f dB against the mid band; %d is the least", r.TrebleDB, leastTrebleDB)
}

// doubtfulSource is the significance from which the ready step reports a second source. It
// has only a few seconds, often with the head far off: one in twenty passages of the clean
// pieces of sweep/bench/grid shows more.
const doubtfulSource = 3.6

// checkOutlook reports the uncertainty that this passage can reach, and the remedy if the
// fixed delay of the channels limits it.
func (c *course) checkOutlook(l *checkList, r record.Reading) {
	const name = "expected uncertainty"
	x := c.Plan.Outlook(r, estimate.OutlookSeconds)
	if math.IsInf(x, 1) {
		l.words(name, Unknown, "it cannot be foretold while the channels have no delay in common", "play a passage that both channels share, or a tone")
		return
	}
	do := "play a passage with steadier and brighter treble, or a tone; or ask for less with --within"
	if x > c.Plan.WithinArcmin {
		known := c.Plan
		known.ChannelDelaySDUS = min(known.ChannelDelaySDUS, 0.5)
		if known.Outlook(r, estimate.OutlookSeconds) <= c.Plan.WithinArcmin {
			do = "align this head with a tone once, and name the unit with --unit: from then on the fixed delay of its channels is known; or ask for less with --within"
		}
	}
	l.number(name, atMost(figures.Coverage*x, figures.Coverage*c.Plan.WithinArcmin, "arcmin"), do,
		"%s after %d s of this passage;%s was asked for", trimmed(x), estimate.OutlookSeconds, figures.PlusMinus(&c.Plan.WithinArcmin, "'"))
}

// trimmed is an interval without the blank before it.
func trimmed(sd float64) string { return figures.PlusMinus(&sd, "'")[1:] }

// whatSets is the name of the check that reports what will set the head.
const whatSets = "what sets the head"

// checkWhatSets reports which measurement will set the head on this passage, and after how
// many seconds of tape.
func (c *course) checkWhatSets(l *checkList, r record.Reading, raw dsp.Reading) {
	if c.Plan.ToneHz > 0 {
		return
	}
	p := c.Plan
	second, ok := raw.Straight.SecondSource()
	p.ByTreble = ok && second > doubtfulSource
	by := "the treble and the delay together"
	switch {
	case p.ByTreble:
		by = "the treble alone, because instruments have delays of their own in this recording"
	case p.ByDelayAlone():
		by = "the delay between the channels, whose fixed part is known to" + figures.PlusMinus(&p.ChannelDelaySDUS, " us")
	}
	seconds := p.TapeOutlook(r)
	if math.IsInf(seconds, 1) {
		l.words(whatSets, Unknown, "it cannot be foretold while the channels have no delay in common", "play a passage that both channels share, or a tone")
		return
	}
	text := fmt.Sprintf("%s, in about %.0f s of tape", by, seconds)
	if !p.ByTreble {
		p.ByTreble = true
		text += fmt.Sprintf(" (or the treble alone, in about %.0f s, if instruments with delays of their own are heard)", p.TapeOutlook(r))
	}
	l.words(whatSets, Pass, text, "")
}

// checkTrebleAlone checks sound without a delay between the channels: what compares them is left
// out. why says what is missing.
func (c *course) checkTrebleAlone(l *checkList, why string, r record.Reading, raw dsp.Reading) {
	c.Tell("ready", "%s: the treble alone will set the head", strings.ToUpper(why[:1])+why[1:])
	l.words(whatSets, Pass, "the treble alone: "+why, "")
	c.checkStrength(l, r, raw)
	if c.Plan.ToneHz > 0 {
		l.tone(r, raw)
		return
	}
	l.treble(r)
}

// motor compares the hum, the band in which a chopper or a motor appears first.
func (l *checkList) motor(name string, off, on dsp.Reading) {
	const most = 6
	rise := float64(max(on.Hum[0]-off.Hum[0], on.Hum[1]-off.Hum[1]))
	l.number(name, atMost(rise, most, "dB"), "move the motor away from the head, lower the hold current, separate the supplies",
		"hum %+.1f dB against the motor off; %d is the limit", rise, most)
}
