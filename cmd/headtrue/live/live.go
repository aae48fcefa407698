// Package live shows what listen hears: lines that are redrawn in place, digits that are read
// from two metres, plain lines for a pipe, and the sentence at the end. It computes nothing of
// the sound.
package live

import (
	"fmt"
	"math"
	"strings"

	"headtrue/cmd/headtrue/app/listening"
	"headtrue/cmd/headtrue/terminal"
	"headtrue/sweep/figures"
)

// renewSeconds is how long a figure stands at least, so that it can be read.
const renewSeconds = 0.25

// figure is a number that stands still: it is renewed at most every renewSeconds, and only if it
// has moved by more than 0.6 of its last digit.
type figure struct {
	shown float64
	known bool
	at    float64
}

// steady returns the figure to show with the digits after the point; nil stands for unknown.
func (f *figure) steady(v *float64, digits int, seconds float64) *float64 {
	switch {
	case v == nil && !f.known:
		return nil
	case (v == nil) != !f.known: // comes or goes
	case seconds-f.at < renewSeconds:
		return &f.shown
	case v != nil && math.Abs(*v-f.shown) <= 0.6*math.Pow(10, -float64(digits)):
		return &f.shown
	}
	f.at, f.known = seconds, v != nil
	if v == nil {
		return nil
	}
	scale := math.Pow(10, float64(digits))
	f.shown = math.Round(*v*scale)/scale + 0
	return &f.shown
}

// names of the figures that are held steady.
type held struct {
	left, right, leftPeak, rightPeak, treble, trebleL, trebleR, delay, tilt, sd, phase, tone, speed, mean, flutter, rms, humL, humR, coherence figure
}

// View turns updates into lines. The zero value shows small lines.
type View struct {
	Large bool
	held  held
}

// number writes a known number, and dashes of the same width otherwise.
func number(width, digits int, signed bool, v *float64) string {
	if v == nil || math.IsNaN(*v) || math.IsInf(*v, 0) {
		return fmt.Sprintf("%*s", width, "-")
	}
	if signed {
		return fmt.Sprintf("%+*.*f", width, digits, *v)
	}
	return fmt.Sprintf("%*.*f", width, digits, *v)
}

// Lines returns the lines for an update.
func (w *View) Lines(u listening.Update) []terminal.Line {
	if w.Large {
		return w.large(u)
	}
	return w.small(u)
}

func (w *View) small(u listening.Update) (lines []terminal.Line) {
	h, s := &w.held, u.Seconds
	add := func(c terminal.Colour, name, format string, args ...any) {
		lines = append(lines, terminal.Line{Text: fmt.Sprintf("%-10s ", name) + fmt.Sprintf(format, args...), Colour: c})
	}
	add("", "left", "%s %s dBFS, peak %s %s", bar(u.LevelDBFS[0], 30), number(6, 1, false, h.left.steady(u.LevelDBFS[0], 1, s)), number(6, 1, false, h.leftPeak.steady(u.PeakDBFS[0], 1, s)), clip(u.Clipped[0]))
	add("", "right", "%s %s dBFS, peak %s %s", bar(u.LevelDBFS[1], 30), number(6, 1, false, h.right.steady(u.LevelDBFS[1], 1, s)), number(6, 1, false, h.rightPeak.steady(u.PeakDBFS[1], 1, s)), clip(u.Clipped[1]))
	add("", "treble", "%s dB %s (left %s, right %s)", number(7, 1, true, h.treble.steady(u.TrebleDB, 1, s)), against(u), number(6, 1, true, h.trebleL.steady(u.TrebleLR[0], 1, s)), number(6, 1, true, h.trebleR.steady(u.TrebleLR[1], 1, s)))
	add("", "delay", "%s us; %s degrees at %s Hz", number(8, 2, true, h.delay.steady(u.DelayUS, 2, s)), number(6, 0, true, h.phase.steady(u.PhaseDeg, 0, s)), number(5, 0, false, u.PhaseHz))
	add("", "tilt", "%s'  %s", number(8, 2, true, h.tilt.steady(u.TiltArcmin, 2, s)), w.within(u))
	if u.ToneHz != nil {
		add("", "tone", "%s Hz%s", number(9, 1, false, h.tone.steady(u.ToneHz, 1, s)), named(u))
		add("", "speed", "%s %%  mean %s %%  flutter %s", number(8, 2, true, h.speed.steady(u.Speed, 2, s)), number(7, 3, true, h.mean.steady(u.SpeedMean, 3, s)), w.flutter(u))
	} else {
		add("", "tone", "%9s", "-")
		add("", "speed", "%8s    no steady tone", "-")
	}
	add("", "hum", "left %s, right %s dBFS at %s Hz", number(6, 0, false, h.humL.steady(u.HumDBFS[0], 0, s)), number(6, 0, false, h.humR.steady(u.HumDBFS[1], 0, s)), number(2, 0, false, u.HumHz))
	add("", "coherence", "%s", number(8, 2, false, h.coherence.steady(u.Coherence, 2, s)))
	if u.Compared != nil {
		add("", "reference", "%s", compared(u.Compared))
	}
	text, colour := doubts(u)
	add(colour, "sound", "%s", text)
	return lines
}

// within is the uncertainty of the tilt in words: 95 %, since when, and what a tone leaves open.
func (w *View) within(u listening.Update) string {
	if u.TiltSD == nil {
		return "not measurable"
	}
	text := fmt.Sprintf("%s (95 %%), still for %2.0f s", figures.PlusMinus(w.held.sd.steady(u.TiltSD, 2, u.Seconds), "'"), u.StillS)
	if u.TiltPeriod != nil {
		text += fmt.Sprintf("; the smallest of those %.1f' apart", *u.TiltPeriod)
	}
	return strings.TrimSpace(text)
}

func (w *View) flutter(u listening.Update) string {
	if u.FlutterPeak == nil {
		return "from 10 s on"
	}
	return fmt.Sprintf("%s %% weighted peak, %s %% rms", number(5, 3, false, w.held.flutter.steady(u.FlutterPeak, 3, u.Seconds)), number(5, 3, false, w.held.rms.steady(u.FlutterRMS, 3, u.Seconds)))
}

func against(u listening.Update) string {
	if u.TiltPeriod != nil {
		return "re full scale"
	}
	return "re the mid band"
}

// named says of a tone that was not named how to have it measured.
func named(u listening.Update) string {
	if u.TiltPeriod == nil && u.Nominal != nil && u.PhaseHz != nil && math.Abs(*u.PhaseHz-*u.ToneHz) > 1 {
		return fmt.Sprintf("; --tone %g measures by it", *u.Nominal)
	}
	return ""
}

func clip(clipped bool) string {
	if clipped {
		return "CLIP"
	}
	return "    "
}

// leastBarDBFS is the level at the left end of a bar.
const leastBarDBFS = -60

func bar(level *float64, width int) string {
	n := 0
	if level != nil {
		n = int(math.Round(float64(width) * (*level - leastBarDBFS) / -leastBarDBFS))
	}
	n = min(max(n, 0), width)
	return strings.Repeat("█", n) + strings.Repeat("·", width-n)
}

// doubts are the faults in words, with a colour.
func doubts(u listening.Update) (string, terminal.Colour) {
	list := append([]string{}, u.Faults...)
	if c := u.Compared; c != nil && c.Swapped != nil && *c.Swapped {
		list = append(list, "swapped")
	}
	if len(list) == 0 {
		return "good", terminal.Green
	}
	return strings.Join(list, ", "), terminal.Red
}

func compared(c *listening.Compared) string {
	switch {
	case c.Error != "":
		return c.Error
	case c.EndSeconds == 0:
		return "10 s of sound are needed first"
	case c.MatchedTilt == nil:
		return "matched; the delay is unknown"
	}
	text := "channels too alike to show a swap"
	if c.Swapped != nil {
		text = map[bool]string{true: "left and right swapped", false: "left and right as in the reference"}[*c.Swapped]
	}
	return fmt.Sprintf("tilt %+.2f'%s (95 %%), %s", *c.MatchedTilt, figures.PlusMinus(tiltSD(c), "'"), text)
}

// tiltSD is the uncertainty of the tilt, by that of the delay.
func tiltSD(c *listening.Compared) *float64 {
	if c.MatchedSD == nil || *c.MatchedUS == 0 {
		return nil
	}
	sd := *c.MatchedSD * *c.MatchedTilt / *c.MatchedUS
	return &sd
}
