package main

import (
	"fmt"
	"io"
	"strings"

	"headtrue/sweep"
	"headtrue/sweep/sheet"
)

// progress prints what happens in a run, a line for each event.
type progress struct {
	to       io.Writer
	bottom   float64 // of the bars, dB: the least and the most treble so far
	top      float64
	anything bool
}

const (
	barLength = 24
	sayColumn = 22 // where the sentences begin
)

func (p *progress) tell(e sweep.Event) {
	if e.Step == nil {
		fmt.Fprintf(p.to, "%6.1f s  %-10s  %s\n", e.TapeSeconds, e.Phase, sheet.Wrap(e.Say, sayColumn))
		return
	}
	r := e.Step.Reading
	if !p.anything {
		p.bottom, p.top, p.anything = r.TrebleDB-10, r.TrebleDB+10, true
	}
	p.bottom, p.top = min(p.bottom, r.TrebleDB), max(p.top, r.TrebleDB)
	length := int((r.TrebleDB-p.bottom)/(p.top-p.bottom)*barLength + 0.5)
	fmt.Fprintf(p.to, "%6.1f s  %-10s  %+7.1f deg  %+7.2f dB  %+8.1f us  %s\n",
		e.TapeSeconds, e.Phase, e.Step.ScrewDeg, r.TrebleDB, r.DelayUS, strings.Repeat("█", length))
}
