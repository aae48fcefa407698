package session

import (
	"context"
	"errors"

	"headtrue/dsp"
	"headtrue/dsp/audio"
	"headtrue/jig"
)

// CellSeconds is the length of a cell, the unit in which a tone is heard while the screw
// turns: two frames and a half. The head moves by less than a quarter of a period in a cell.
const CellSeconds = 0.04

// Cell holds the sound heard while the screw turned from one position to another.
type Cell struct {
	Raw            dsp.Reading
	FromDeg, ToDeg float64
	AtSeconds      float64 // the middle of the cell, in tape seconds
	Seconds        float64
}

// turning is one turn under way. Cells are cut from the sound by sample numbers. Each cell
// waits until the jig has reported its position at the end of the cell.
type turning struct {
	*Session
	keep    func(Cell) error
	enough  func() bool // nil if only the target ends the turn
	begun   int64       // first sample of the open cell
	waiting []stretch
}

// stretch holds the sound between two samples.
type stretch struct {
	raw      dsp.Reading
	from, to int64
}

// Turn drives to a position without a stop and listens in cells. It ends at the position or
// as soon as enough returns true. If the screw reaches the position first, Turn listens
// until enough returns true, at most for the settling time after the screw stood, because
// sound arrives late. If enough is nil, that sound is left to the next turn. Turn passes
// each cell to keep once the jig's positions in it are known.
func (c *Session) Turn(ctx context.Context, to, degPerS float64, keep func(Cell) error, enough func() bool) error {
	if !c.axis.Ready() {
		return errors.New("sweep: the jig was not heard beside the sound, so that a turn cannot be measured")
	}
	if err := c.hold(ctx); err != nil {
		return err
	}
	c.meter.Reset()
	t := &turning{Session: c, keep: keep, enough: enough, begun: c.next}
	defer c.running.turning(to - c.ScrewDeg)()
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

// closeAll reads sound until the jig has reported its positions in all cells.
func (t *turning) closeAll(ctx context.Context) error {
	for {
		if err := t.close(); err != nil || len(t.waiting) == 0 {
			return err
		}
		if _, err := t.setup.Jig.Look(ctx); err != nil { // an error ends the wait for reports that never come
			return err
		}
		if _, err := t.pull(ctx); err != nil {
			return err
		}
	}
}

// watch hears one block and closes each cell that can be closed.
func (t *turning) watch(ctx context.Context, _ jig.Status) (bool, error) {
	if err := t.close(); err != nil {
		return false, err
	}
	enough := t.enough != nil && t.enough()
	b, err := t.pull(ctx) // also after enough: time must pass until the jig stands
	if err == nil {
		t.cut(b)
	}
	return enough, err
}

// cut adds a block to the open cell and ends cells within the block: a block from a pipe may
// be longer than a cell.
func (t *turning) cut(b audio.Block) {
	const piece = 1024 // frames; the usual block of most sources
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

// close closes the cells whose end lies within the known positions of the jig.
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

// heard passes on a stretch in which the screw turned from one position to another.
func (t *turning) heard(c stretch, from, to float64) error {
	rate := float64(t.setup.Sound.Rate())
	t.moved((from+to)/2, false)
	return t.keep(Cell{Raw: c.raw, FromDeg: from, ToDeg: to,
		AtSeconds: (float64(c.from+c.to)/2 - float64(t.first)) / rate, Seconds: float64(c.to-c.from) / rate})
}
