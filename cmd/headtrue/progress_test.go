package main

import (
	"fmt"
	"strings"
	"testing"
	"unicode/utf8"

	"headtrue/cmd/headtrue/terminal"
	"headtrue/sweep"
	"headtrue/sweep/record"
	"headtrue/sweep/stream"
)

// turn sends the events of a turn of four seconds, 25 steps per second, from a null of the tone
// on.
func turn(p *progress) {
	for i := range 100 {
		step := record.Step{ScrewDeg: -500 + float64(i), Turning: true}
		step.Reading.TrebleDB = -20
		if i == 0 {
			step.Reading.TrebleDB = -197
		}
		p.tell(sweep.Event{Kind: stream.Stepped, Phase: "bracket", Step: &step, TapeSeconds: float64(i) * 0.04})
	}
}

func standingStep(p *progress, db float64) {
	p.tell(sweep.Event{Kind: stream.Stepped, Phase: "refine", Step: &record.Step{Reading: record.Reading{TrebleDB: db}}, TapeSeconds: 4})
}

func TestATurnIsShownTwiceASecond(t *testing.T) {
	var out strings.Builder
	p := &progress{to: &terminal.Screen{To: &out}}
	turn(p)
	if n := strings.Count(out.String(), "\n"); n < 7 || n > 9 {
		t.Errorf("%d lines for 4 s:\n%s", n, out.String())
	}
	for range 3 {
		standingStep(p, -20)
	}
	if n := strings.Count(out.String(), "refine"); n != 3 {
		t.Errorf("%d lines for 3 standing steps:\n%s", n, out.String())
	}
}

// On a terminal a turn takes one line, and the next output begins another.
func TestATurnIsOneLineOnATerminal(t *testing.T) {
	var out strings.Builder
	s := &terminal.Screen{To: &out, Terminal: true}
	turn(&progress{to: s})
	if text := out.String(); strings.Contains(text, "\n") || strings.Count(text, "\r") < 7 {
		t.Errorf("%q: want one line, written over", text)
	}
	for _, state := range strings.Split(out.String(), "\r") {
		if n := utf8.RuneCountInString(state); n >= 80 {
			t.Errorf("%d columns: a terminal of 80 begins a new line: %q", n, state)
		}
	}
	fmt.Fprintln(s, "next")
	fmt.Fprintln(s, "last")
	if !strings.HasSuffix(out.String(), "\nnext\nlast\n") {
		t.Errorf("%q: want what comes next in lines of its own", out.String())
	}
}

// One null of a tone does not make all bars equally long.
func TestBarsTellTrebleApartAfterANull(t *testing.T) {
	var out strings.Builder
	p := &progress{to: &terminal.Screen{To: &out}}
	for _, db := range []float64{-10, -197, -10, -30} {
		standingStep(p, db)
	}
	lines := strings.Split(out.String(), "\n")
	bright, dull := strings.Count(lines[2], "█"), strings.Count(lines[3], "█")
	if bright-dull < 6 || strings.Count(lines[1], "█") != 0 {
		t.Errorf("bars of %d and %d for 20 dB:\n%s", bright, dull, out.String())
	}
}
