package app

import (
	"fmt"
	"math"
	"strings"

	"headtrue/cmd/headtrue/settings"
	"headtrue/sweep/figures"
	"headtrue/sweep/record"
)

// Learn stores what a run that ended well has measured of the unit, for later runs. A
// failure is only reported: the run itself is in the logbook.
func (j *Job) Learn(end record.End) {
	file := j.Settings.UnitFile(j.IsVirtual())
	if file == "" || !end.Outcome.Good() && end.Outcome != record.LessCertain {
		return
	}
	entries, err := j.Entries()
	if err != nil {
		return // report shows this error
	}
	var d *record.Decision
	for _, e := range entries {
		if e.Decision != nil {
			d = e.Decision
		}
	}
	if d == nil {
		return
	}
	held, err := settings.ReadLearnt(file)
	if err != nil {
		j.front.Note("what was learnt is not kept: %v", err)
		return
	}
	now := learnt(held, *d, j.Plan.ToneHz > 0)
	if j.ByHand {
		now = withHand(now, *d, j.Plan.Forward)
	}
	if err := now.Write(file, j.run.ID()); err != nil {
		j.front.Note("%v", err)
		return
	}
	j.front.Note("kept for unit %s, head %s: %s (%s)", j.Settings.Unit, j.Settings.Head, inWords(now), file)
}

// A value is stored if its standard deviation is below its limit: 5 % of the gearing, degrees
// of backlash, microseconds of channel delay. The channel delay is taken from tones alone,
// since the sources of a stereo mix have delays of their own.
const (
	keptGearing = 0.05
	keptPlayDeg = 3
	keptDelayUS = 5
)

func learnt(l settings.Learnt, d record.Decision, tone bool) settings.Learnt {
	if g := d.GearingArcminPerTurn; g != 0 && d.GearingSDArcminPerTurn < keptGearing*math.Abs(g) {
		l.Deck.GearingArcminPerTurn, l.Deck.GearingSignKnown = g, true
	}
	if d.BacklashSDDeg > 0 && d.BacklashSDDeg < keptPlayDeg {
		l.Deck.BacklashDeg = max(0, d.BacklashDeg)
	}
	if tone && d.Fitted.OK && d.ChannelDelaySDUS > 0 && d.ChannelDelaySDUS < keptDelayUS {
		l = l.With(d.ChannelDelayUS, d.ChannelDelaySDUS)
	}
	return l
}

// handGearing is the greatest relative standard deviation of a gearing by hand that is kept if a
// jig has not measured it.
const handGearing = 0.25

// withHand adds what a run by hand has learnt of the gearing: which way the screw tilts the
// head, and about how far. Its gearing is for a clockwise turn, the kept one for a turn forward.
func withHand(l settings.Learnt, d record.Decision, forward string) settings.Learnt {
	g := d.GearingArcminPerTurn
	if !(d.GearingSDArcminPerTurn < handGearing*math.Abs(g)) { // also if it is unknown
		return l
	}
	if forward == "counter-clockwise" {
		g = -g
	}
	if held := l.Deck.GearingArcminPerTurn; held != 0 {
		g = math.Copysign(held, g)
	}
	l.Deck.GearingArcminPerTurn, l.Deck.GearingSignKnown = g, true
	return l
}

func inWords(l settings.Learnt) string {
	var w []string
	if g := l.Deck.GearingArcminPerTurn; g != 0 {
		w = append(w, fmt.Sprintf("gearing %+.0f' a turn", g))
	}
	if b := l.Deck.BacklashDeg; b != 0 {
		w = append(w, fmt.Sprintf("backlash %.0f degrees", b))
	}
	if l.ChannelDelaySDUS > 0 {
		w = append(w, fmt.Sprintf("fixed delay %.1f us%s", l.ChannelDelayUS, figures.PlusMinus(&l.ChannelDelaySDUS, "")))
	}
	if len(w) == 0 {
		return "nothing yet"
	}
	return strings.Join(w, ", ")
}
