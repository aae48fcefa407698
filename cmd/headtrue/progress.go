package main

import (
	"fmt"
	"strings"

	"headtrue/cmd/headtrue/terminal"
	"headtrue/sweep"
	"headtrue/sweep/sheet"
	"headtrue/sweep/stream"
)

// progress prints the events of a run, one line each. While the screw turns, events come many
// times a second; it shows one every turningEverySeconds.
type progress struct {
	to       *terminal.Screen
	bottom   float64 // of the bars, dB
	top      float64 // the most treble yet
	anything bool
	turning  bool    // the last event was heard while the screw turned
	shown    float64 // tape seconds when such an event was last shown
}

const (
	barLength = 19 // up to the last but one column
	barDB     = 40 // the nulls of a tone lie far below
	sayColumn = 22 // column of the sentences
	// turningEverySeconds is the tape time between two lines while the screw turns.
	turningEverySeconds = 0.5
)

func (p *progress) tell(e sweep.Event) {
	switch e.Kind {
	case stream.Stepped:
	case stream.Said, stream.Warned, stream.Ended:
		p.turning = false
		fmt.Fprintf(p.to, "%6.1f s  %-10s  %s\n", e.TapeSeconds, e.Phase, sheet.Wrap(e.Say, sayColumn))
		return
	default:
		return
	}
	r := e.Step.Reading
	if !p.anything {
		p.bottom, p.top, p.anything = r.TrebleDB-10, r.TrebleDB+10, true
	}
	p.top = max(p.top, r.TrebleDB)
	p.bottom = max(min(p.bottom, r.TrebleDB), p.top-barDB)
	length := int((r.TrebleDB-p.bottom)/(p.top-p.bottom)*barLength + 0.5)
	line := fmt.Sprintf("%6.1f s  %-10s  %+7.1f deg  %+7.2f dB  %+8.1f us  %s",
		e.TapeSeconds, e.Phase, e.Step.ScrewDeg, r.TrebleDB, r.DelayUS, strings.Repeat("█", max(length, 0)))
	if !e.Step.Turning {
		p.turning = false
		fmt.Fprintln(p.to, line)
		return
	}
	if p.turning && e.TapeSeconds < p.shown+turningEverySeconds {
		return
	}
	p.turning, p.shown = true, e.TapeSeconds
	p.to.Over(line)
}
