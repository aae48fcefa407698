// Package progress shows the events of a run on a terminal: its sentences, and a table with a line
// for each step. On a pipe it writes the same without what is only passing.
package progress

import (
	"fmt"
	"math"

	"headtrue/cmd/headtrue/terminal"
	"headtrue/sweep/record"
	"headtrue/sweep/stream"
)

// Progress shows the events of one run. While the screw turns, and while the run listens, readings
// come many times a second; it shows one every everySeconds.
type Progress struct {
	to      *terminal.Screen
	stages  stream.Stages
	clock   clock
	heads   string // of the table as they were shown last
	bars    bars
	rapid   bool    // the last line was one of many a second
	shown   float64 // seconds at which one of these was last shown
	turning bool    // it shows the steps of a turn
	guide   guide
}

// everySeconds is the time of tape between two lines for what comes many times a second.
const everySeconds = 0.5

// New returns the progress of a run that will go through the given stages if nothing disturbs
// it.
func New(to *terminal.Screen, plan []string) *Progress {
	return &Progress{to: to, stages: stream.Stages{Plan: plan}}
}

// clock counts the seconds of sound heard. The tape's seconds begin anew after the ready step;
// the clock goes on.
type clock struct{ before, tape float64 }

func (c *clock) at(tapeSeconds float64) float64 {
	if tapeSeconds < c.tape {
		c.before += c.tape - tapeSeconds
	}
	c.tape = tapeSeconds
	return c.before + tapeSeconds
}

// Tell shows an event.
func (p *Progress) Tell(e stream.Event) {
	seconds := p.clock.at(e.TapeSeconds)
	if e.Kind != stream.Warned { // whose phase is what it is about
		p.stages.Enter(e.Phase)
	}
	switch e.Kind {
	case stream.Said:
		p.say(seconds, e.Phase, e.Say, "")
	case stream.Warned:
		p.say(seconds, e.Phase, "doubt: "+e.Say, terminal.Yellow)
	case stream.Ended:
		p.say(seconds, e.Phase, ending(e), colourOf(e.End))
	case stream.Guided:
		p.guided(seconds, e)
	case stream.Heard:
		if p.guide.leading {
			return
		}
		if p.turning { // the steps of the turn say the same
			return
		}
		r := e.Reading
		p.live(line{seconds: seconds, what: e.Phase, screwDeg: r.ScrewDeg, trebleDB: r.TrebleDB, delayUS: r.DelayUS, tiltArcmin: r.TiltArcmin,
			levelDBFS: louder(r.LevelDBFS)}, p.to.Passing)
	case stream.Stepped:
		if p.guide.byHand { // the live readings say the same
			p.bars.grow(e.Step.Reading.TrebleDB)
			return
		}
		r := e.Step.Reading
		l := line{seconds: seconds, what: e.Phase, screwDeg: e.Step.ScrewDeg, trebleDB: r.TrebleDB, delayUS: r.DelayUS, tiltArcmin: r.TiltArcmin,
			levelDBFS: louder(r.LevelDBFS)}
		p.bars.grow(r.TrebleDB)
		if e.Step.Turning {
			p.rapid, p.turning = p.rapid && p.turning, true
			p.live(l, p.to.Over)
			return
		}
		p.rapid, p.turning = false, false
		fmt.Fprintln(p.to, p.row(l))
	}
}

func louder(levels [2]float64) float64 { return max(levels[0], levels[1], -99.9) }

// ending is how a run ended, in words.
func ending(e stream.Event) string {
	if e.End == nil {
		return e.Say
	}
	return string(e.End.Outcome) + ": " + e.Say
}

func colourOf(end *record.End) terminal.Colour {
	switch {
	case end == nil:
		return ""
	case end.Outcome.Good():
		return terminal.Green
	case end.Outcome.HeadSet():
		return terminal.Yellow
	}
	return terminal.Red
}

// live shows one of many lines a second.
func (p *Progress) live(l line, show func(string)) {
	if p.rapid && l.seconds < p.shown+everySeconds {
		return
	}
	p.rapid, p.shown = true, l.seconds
	show(p.row(l))
}

// row is a line of the table. If the columns have changed, their heads are shown before it.
func (p *Progress) row(l line) string {
	now := layoutFor(p.to.Display)
	p.head(now)
	l.step = p.step()
	l.bar = p.bars.length(l.trebleDB)
	return now.text(l)
}

func (p *Progress) head(now layout) {
	if heads := now.heads(); heads != p.heads {
		p.heads = heads
		fmt.Fprint(p.to, heads)
	}
}

// step is the number of the present stage, and about how many there will be.
func (p *Progress) step() string {
	n, about := p.stages.Count()
	return fmt.Sprintf("%d of ~%d", n, about)
}

// say shows a sentence.
func (p *Progress) say(seconds float64, phase, sentence string, c terminal.Colour) {
	p.rapid, p.turning = false, false
	p.head(layoutFor(p.to.Display))
	if p.to.Columns() < narrow {
		p.to.Print(fmt.Sprintf("%5.1f %s\n", seconds, p.to.Wrap(fmt.Sprintf("%-8s %s: %s", p.step(), phase, sentence), 6)), c)
		return
	}
	p.to.Print(fmt.Sprintf("%5.1f %-8s %-10s %s\n", seconds, p.step(), phase, p.to.Wrap(sentence, sayColumn)), c)
}

// bars are the bars of treble: from the dullest to the brightest heard, but no more than barDB.
type bars struct {
	bottom, top float64 // dB
	begun       bool
}

const barDB = 40 // the nulls of a tone lie far below

func (b *bars) grow(db float64) {
	if !b.begun {
		*b = bars{db - 10, db + 10, true}
	}
	b.top = max(b.top, db)
	b.bottom = max(min(b.bottom, db), b.top-barDB)
}

// length is the length of a bar, from 0 to 1.
func (b *bars) length(db float64) float64 {
	if !b.begun || math.IsNaN(db) {
		return 0
	}
	return min(max((db-b.bottom)/(b.top-b.bottom), 0), 1)
}
