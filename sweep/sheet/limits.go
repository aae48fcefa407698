package sheet

import (
	"fmt"
	"strings"

	"headtrue/sweep/record"
)

// limits lists what the figures do not show.
func limits(p parts) []string {
	var list []string
	say := func(format string, args ...any) {
		list = append(list, shorten(fmt.Sprintf(format, args...), itemLength))
	}
	if s := p.start; s != nil {
		if s.Virtual != "" {
			say("Made on the virtual bench: it says nothing of a real deck.")
		}
		switch to := s.Settings["to"]; {
		case to == "standard":
			say("Set to the standard as far as the reference tape %q holds it.", s.Settings["reference_tape.profile"])
		case to != "":
			say("Set to this tape, not to the standard: the optimum of another tape may differ.")
		}
		if s.Cautions.Asked {
			say("The cautions were shown and answered with %q.", s.Cautions.Answer)
		}
	}
	if r := foundOf(p); r != nil && r.ToneHz == 0 {
		say("Heard on music: its treble moves by itself, and instruments with delays of their own shift the delay zero.")
	}
	if d := p.decision; d != nil && d.SecondSourceHeard {
		so := "prove it on a tone"
		if p.end != nil && p.end.Outcome == record.Aligned {
			so = "its treble set the head, and a delay as left means little"
		}
		say("The sound of this recording does not fit a single delay (%.1f deviations; about 2 is chance): %s.", d.SecondSourceSigmas, so)
	}
	if p.left != nil {
		if p.decision == nil && !p.byHand {
			list = append(list, stepsChecked(p.left.StepsCheckedBy))
		}
		if t := p.left.BladeTiltArcmin; t != 0 {
			say("The seated blade tilted the head by %+.1f′, which was allowed for.", t)
		}
	}
	list = append(list, doubts(p)...)
	if p.byHand {
		say("± is of the head as it stood with the hands off: warmth, and time until it is sealed, add to it.")
	} else {
		say("± is of one seating of the blade: seating it anew, warmth and clamping add to it.")
	}
	if mayBeSealed(p) {
		say("Seal the screw with lacquer only when content, and measure once more after it has dried.")
	}
	return list
}

// doubts are the ready checks that did not pass: one sentence for the doubtful ones, and one
// for those without a result.
func doubts(p parts) []string {
	if p.checks == nil {
		return nil
	}
	var doubtful, untold []string
	for _, c := range p.checks.Checks {
		switch c.Verdict {
		case "doubt", "fail":
			doubtful = append(doubtful, c.Name+" ("+c.Found+")")
		case "unknown":
			untold = append(untold, c.Name)
		}
	}
	var list []string
	if doubtful != nil {
		list = append(list, shorten("Not in order at the ready step: "+strings.Join(doubtful, "; ")+".", itemLength))
	}
	if untold != nil {
		list = append(list, shorten("Not possible at the ready step: "+strings.Join(untold, ", ")+".", itemLength))
	}
	return list
}
