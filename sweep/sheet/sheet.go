// Package sheet turns the record of a run into a job sheet: the request, the table of steps,
// the curve, and the verdict in plain words, as text for a terminal 80 columns wide, readable
// without colour. For paper there is a Page, one sheet of A4 that HTML and PDF draw alike; it
// can also compare two runs.
//
// The package is pure: record entries in, text out. It measures and decides nothing. Each
// number that it shows is in the record, or is the difference of two that are; if the record
// has an angle of the screw and the gearing, the difference is shown as tilt.
package sheet

import (
	"fmt"
	"strings"

	"headtrue/sweep/figures"
	"headtrue/sweep/place"
	"headtrue/sweep/record"
	"headtrue/sweep/sheet/chars"
	"headtrue/sweep/sheet/table"
)

// Width is the width of a sheet, in columns.
const Width = chars.Width

// parts are the entries of a run by kind; the last of a kind counts.
type parts struct {
	start    *record.Start
	at       string
	checks   *record.Checks
	found    *record.Found
	steps    []record.Step
	decision *record.Decision
	left     *record.Left
	end      *record.End
	notes    []record.Note
	figures  figures.Figures
	axis     place.Axis
	byHand   bool    // a person turned the screw
	seconds  float64 // of tape
	absurd   int     // entries left out
}

func (p parts) leftOut() string {
	return fmt.Sprintf("%d entries hold figures that no run can have; they are left out.", p.absurd)
}

func sortOut(entries []record.Entry) parts {
	var p parts
	var valid []record.Entry
	for _, e := range entries {
		if e.ValidFigures() != nil {
			p.absurd++ // no run can have recorded it, and it cannot be drawn
			continue
		}
		valid = append(valid, e)
		switch {
		case e.Start != nil:
			p.start, p.at = e.Start, e.At
		case e.Checks != nil:
			p.checks = e.Checks
		case e.Found != nil:
			p.found = e.Found
		case e.Step != nil:
			p.steps = append(p.steps, *e.Step)
		case e.Decision != nil:
			p.decision = e.Decision
		case e.Left != nil:
			p.left = e.Left
		case e.End != nil:
			p.end = e.End
		case e.Note != nil:
			p.notes = append(p.notes, *e.Note)
		}
	}
	p.figures, p.byHand = figures.Of(valid), record.ByHand(valid)
	p.axis = place.Of(p.start, p.found, p.steps, p.decision, p.left)
	if s := p.figures.TapeSeconds; s != nil {
		p.seconds = *s
	}
	if p.absurd > 0 {
		p.notes = append(p.notes, record.Note{Text: p.leftOut()})
	}
	return p
}

// Brief is the sheet of a run for the screen at its end: the result and the curve.
func Brief(entries []record.Entry) string {
	p := sortOut(entries)
	text := result(p)
	if len(p.steps) > 0 {
		text += "\n" + plot(p)
	}
	return text
}

// Text is the whole job sheet of a run, the result first.
func Text(entries []record.Entry) string {
	p := sortOut(entries)
	sections := []string{result(p), heading(p)}
	if p.absurd > 0 {
		sections = append(sections, p.leftOut()+"\n")
	}
	if len(p.steps) > 0 {
		steps := table.Steps(p.steps)
		if p.byHand {
			steps = table.ByHand(p.steps, p.axis)
		}
		if p.placed() {
			sections = append(sections, plot(p))
		}
		sections = append(sections, steps)
	}
	if p.checks != nil {
		sections = append(sections, Checks(*p.checks))
	}
	return strings.Join(sections, "\n")
}

func heading(p parts) string {
	if p.start == nil {
		return "JOB SHEET\n"
	}
	s := p.start
	var b strings.Builder
	fmt.Fprintf(&b, "JOB SHEET   %s, run %s\n", s.Command, s.Run)
	line := func(name, value string) {
		if value != "" {
			fmt.Fprintf(&b, "  %-10s %s\n", name, value)
		}
	}
	line("begun", p.at)
	line("jig", s.Port)
	line("sound", s.Audio)
	if s.Virtual != "" {
		line("virtual", fmt.Sprintf("bench %q, seed %d", s.Virtual, s.Seed))
	}
	line("goes back", s.RestoreOf)
	if s.Cautions.Asked {
		line("cautions", s.Cautions.Answer)
	}
	line("tape used", fmt.Sprintf("%.1f s", p.seconds))
	return b.String()
}

// Checks is the table of the ready checks.
func Checks(c record.Checks) string {
	var b strings.Builder
	b.WriteString("READY\n")
	for _, ch := range c.Checks {
		fmt.Fprintf(&b, "  %-8s%-22s%s\n", ch.Verdict, ch.Name, chars.Wrap(ch.Found, 32))
		if ch.Do != "" {
			fmt.Fprintf(&b, "%30s  -> %s\n", "", chars.Wrap(ch.Do, 35))
		}
	}
	return b.String()
}
