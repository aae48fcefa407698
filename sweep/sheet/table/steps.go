// Package table lists the measured places of a run for a terminal.
package table

import (
	"fmt"
	"math"
	"strings"

	"headtrue/sweep/place"
	"headtrue/sweep/record"
	"headtrue/sweep/sheet/chars"
)

// turningShown is the number of steps of a turn for each one shown in the table: they come
// many times a second.
const turningShown = 5

// listed selects the steps of the table: all that were measured at rest, and of each turn the
// first and every fifth after it.
func listed(steps []record.Step) (list []record.Step, turned int) {
	nth := 0
	for _, s := range steps {
		if !s.Turning {
			nth = 0
			list = append(list, s)
			continue
		}
		if nth%turningShown == 0 {
			list = append(list, s)
		}
		nth++
		turned++
	}
	return list, turned
}

// Steps is the table of measured positions of a screw that a jig has turned.
func Steps(steps []record.Step) string {
	var b strings.Builder
	b.WriteString("STEPS\n")
	b.WriteString("   n  phase        screw      treble      delay     tilt  coherence  from\n")
	b.WriteString("                     deg          dB         us   arcmin\n")
	list, turned := listed(steps)
	for _, s := range list {
		r := s.Reading
		from := "away"
		if s.FromHome {
			from = "home"
		}
		screw := "-"
		if !math.IsNaN(s.ScrewDeg) {
			screw = fmt.Sprintf("%+.1f", s.ScrewDeg)
		}
		fmt.Fprintf(&b, "%4d  %-10s %7s  %+7.2f%5s  %+8.1f  %+7.1f  %9.2f  %s",
			s.N, chars.Cut(s.Phase, 10), screw, r.TrebleDB, plusMinus(r.TrebleSDDB), r.DelayUS, r.TiltArcmin, r.Coherence, from)
		if !r.Usable {
			fmt.Fprintf(&b, "  not usable")
		}
		b.WriteString("\n")
		if len(r.Why) > 0 {
			fmt.Fprintf(&b, "%16s %s\n", "", chars.Wrap(strings.Join(r.Why, "; "), 17))
		}
	}
	if turned > 0 {
		text := fmt.Sprintf("%d steps were heard while the screw turned, of which one in %d is listed; the record holds all.", turned, turningShown)
		b.WriteString("  " + chars.Wrap(text, 2) + "\n")
	}
	if HasPeriod(steps) {
		b.WriteString("  " + chars.Wrap("On a tone the delay is known only to whole periods of it.", 2) + "\n")
	}
	return b.String()
}

// plusMinus shows an uncertainty; empty if it is not known.
func plusMinus(sd float64) string {
	if sd <= 0 {
		return ""
	}
	return fmt.Sprintf("±%.2f", sd)
}

// listedByHand is the number of steps for each one listed.
const listedByHand = 10

// ByHand is the table of what was heard while a person turned the screw; axis has its places.
func ByHand(steps []record.Step, axis place.Axis) string {
	var b strings.Builder
	b.WriteString("STEPS\n")
	b.WriteString("   n  phase         tape     tilt      treble      delay  coherence\n")
	b.WriteString("                       s   arcmin          dB         us\n")
	for i := 0; i < len(steps); i += listedByHand {
		s := steps[i]
		tilt := "-"
		if at, ok := axis.Step(i); ok {
			tilt = fmt.Sprintf("%+.1f", at)
		}
		fmt.Fprintf(&b, "%4d  %-10s %7.1f %8s  %+7.2f%5s  %+8.1f  %9.2f", s.N, chars.Cut(s.Phase, 10), s.AtSeconds, tilt,
			s.Reading.TrebleDB, plusMinus(s.Reading.TrebleSDDB), s.Reading.DelayUS, s.Reading.Coherence)
		if !s.Reading.Usable {
			b.WriteString("  not usable")
		}
		b.WriteString("\n")
	}
	say := func(text string) { b.WriteString("  " + chars.Wrap(text, 2) + "\n") }
	say(fmt.Sprintf("%d steps were heard, of which one in %d is listed; the record holds all.", len(steps), listedByHand))
	if HasPeriod(steps) {
		say("On a tone the delay is known only to whole periods of it: the tilt is that with which the level fits the curve, and - if none does.")
	}
	return b.String()
}

// HasPeriod reports whether the delay of a run is known only to whole periods of a tone.
func HasPeriod(steps []record.Step) bool {
	for _, s := range steps {
		if s.Reading.DelayPeriodUS > 0 {
			return true
		}
	}
	return false
}
