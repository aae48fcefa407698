package session

import (
	"context"
	"errors"

	"headtrue/dsp"
	"headtrue/dsp/audio"
	"headtrue/jig"
)

// A tone is heard while the screw turns, in cells so short that the head moves
// by less than a quarter of a period in each: two frames and a half.
const CellSeconds = 0.04

// Cell is what was heard while the screw turned from one place to another.
type Cell struct {
	Raw            dsp.Reading
	FromDeg, ToDeg float64
	AtSeconds      float64 // its middle, on the tape
	Seconds        float64
}

// turning is one turn under way. Cells are cut in the sound, by sample numbers, and wait
// until the jig has told where it was at the end of each.
type turning struct {
	*Session
	keep    func(Cell) error
	enough  func() bool // nil if only the target ends the turn
	begun   int64       // sample at which the open cell began
	waiting []stretch
}

// stretch is what was heard between two samples.
type stretch struct {
	raw      dsp.Reading
	from, to int64
}

// Turn drives towards a position without a stop, listening in cells, until it is there
// or enough reports that it was enough. If the target was reached first, what the tape
// played before the screw stood is still heard, until it is enough: sound comes late,
// but not later than the settling time. Without enough it is left to the next turn.
// keep is handed each cell once the jig's way through it is known.
func (c *Session) Turn(ctx context.Context, to, degPerS float64, keep func(Cell) error, enough func() bool) error {
	if !c.axis.Ready() {
		return errors.New("sweep: the jig was not heard beside the sound, so that a turn cannot be measured")
	}
	if err := c.hold(ctx); err != nil {
		return err
	}
	c.meter.Reset()
	t := &turning{Session: c, keep: keep, enough: enough, begun: c.next}
	st, err := c.setup.Jig.Turn(ctx, jig.Degrees(to), degPerS, t.watch)
	if err != nil {
		return err
	}
	ended := enough == nil || enough()
	for until := c.axis.Sample(c.setup.Jig.StandsSince()) + c.samples(c.Plan.SettleSeconds); !ended && c.next < until; {
		if ended, err = t.watch(ctx, st); err != nil {
			return err
		}
	}
	if err == nil {
		err = t.closeAll(ctx)
	}
	c.moved(float64(st.Position), false)
	return err
}

// closeAll lets sound go by until the jig has told its way through all cells.
func (t *turning) closeAll(ctx context.Context) error {
	for {
		if err := t.close(); err != nil || len(t.waiting) == 0 {
			return err
		}
		if _, err := t.setup.Jig.Look(ctx); err != nil { // it may never tell
			return err
		}
		if _, err := t.pull(ctx); err != nil {
			return err
		}
	}
}

// samples is how many samples so many seconds have.
func (c *Session) samples(seconds float64) int64 {
	return int64(seconds * float64(c.setup.Sound.Rate()))
}

// watch hears one block and closes the cells that can be closed.
func (t *turning) watch(ctx context.Context, _ jig.Status) (bool, error) {
	if err := t.close(); err != nil {
		return false, err
	}
	enough := t.enough != nil && t.enough()
	b, err := t.pull(ctx) // also after it was enough: time must pass until the jig stands
	if err == nil {
		t.cut(b)
	}
	return enough, err
}

// cut adds a block to the open cell, and ends cells within it: a block from a pipe may be
// longer than a cell.
func (t *turning) cut(b audio.Block) {
	const piece = 1024 // frames; what most sources yield at a time
	for at := 0; at < b.Frames(); at += piece {
		end := min(at+piece, b.Frames())
		t.meter.Add(audio.Block{Start: b.Start + int64(at), Left: b.Left[at:end], Right: b.Right[at:end], Lost: b.Lost})
		b.Lost = 0
		if heard := b.Start + int64(end); heard-t.begun >= t.samples(CellSeconds) {
			t.waiting = append(t.waiting, stretch{t.meter.Reading(), t.begun, heard})
			t.meter.Reset()
			t.begun = heard
		}
	}
}

// close closes the cells up to whose end the way of the jig is known.
func (t *turning) close() error {
	for len(t.waiting) > 0 {
		c := t.waiting[0]
		end := t.axis.Micros(c.to)
		if end > t.setup.Jig.KnownUntil() {
			return nil
		}
		t.waiting = t.waiting[1:]
		if err := t.heard(c, float64(t.setup.Jig.At(t.axis.Micros(c.from))), float64(t.setup.Jig.At(end))); err != nil {
			return err
		}
	}
	return nil
}

// heard hands a stretch on, in which the screw turned from one position to another.
func (t *turning) heard(c stretch, from, to float64) error {
	rate := float64(t.setup.Sound.Rate())
	t.moved((from+to)/2, false)
	return t.keep(Cell{Raw: c.raw, FromDeg: from, ToDeg: to,
		AtSeconds: (float64(c.from+c.to)/2 - float64(t.first)) / rate, Seconds: float64(c.to-c.from) / rate})
}
