package sweep

import (
	"context"
	"errors"
	"math"

	"headtrue/dsp"
	"headtrue/dsp/audio"
	"headtrue/jig"
	"headtrue/sweep/record"
	"headtrue/sweep/tape"
)

// A tone is heard while the screw turns, in cells so short that the head moves
// by less than a quarter of a period in each: two frames and a half.
const cellSeconds = 0.04

// troubledSeconds of sound that cannot be used end a turn.
const troubledSeconds = 0.6

// turning is one turn under way. Cells are cut in the sound, by sample numbers, and wait
// until the jig has told where it was at the end of each.
type turning struct {
	*course
	phase    string
	enough   func() bool // nil if only the target ends the turn
	begun    int64       // sample at which the open cell began
	waiting  []stretch
	troubled float64 // seconds on end
	cells    int
	bad      int // cells that could not be used
}

// stretch is what was heard between two samples.
type stretch struct {
	raw      dsp.Reading
	from, to int64
}

// turn drives towards a position without a stop, listening in cells, until it is there
// or enough reports that it was enough. If the target was reached first, what the tape
// played before the screw stood is still heard, until it is enough: sound comes late,
// but not later than the settling time. Without enough it is left to the next turn.
func (c *course) turn(ctx context.Context, phase string, to, arcminPerS float64, enough func() bool) error {
	if !c.axis.Ready() {
		return errors.New("sweep: the jig was not heard beside the sound, so that a turn cannot be measured")
	}
	c.beginRun()
	c.meter.Reset()
	t := &turning{course: c, phase: phase, enough: enough, begun: c.next}
	st, err := c.Jig.Turn(ctx, jig.Degrees(to), arcminPerS/c.perDeg(), t.watch)
	if err != nil {
		return err
	}
	ended := enough == nil || enough()
	for until := c.axis.Sample(c.Jig.StandsSince()) + c.samples(c.plan.SettleSeconds); !ended && c.next < until; {
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
		if _, err := t.Jig.Look(ctx); err != nil { // it may never tell
			return err
		}
		if _, err := t.pull(ctx); err != nil {
			return err
		}
	}
}

// samples is how many samples so many seconds have.
func (c *course) samples(seconds float64) int64 { return int64(seconds * float64(c.Sound.Rate())) }

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
		if heard := b.Start + int64(end); heard-t.begun >= t.samples(cellSeconds) {
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
		if end > t.Jig.KnownUntil() {
			return nil
		}
		t.waiting = t.waiting[1:]
		if err := t.keepCell(c, float64(t.Jig.At(t.axis.Micros(c.from))), float64(t.Jig.At(end))); err != nil {
			return err
		}
	}
	return nil
}

// keepCell keeps a cell in which the screw turned from one position to another.
func (t *turning) keepCell(c stretch, from, to float64) error {
	rate := float64(t.Sound.Rate())
	middle, at, seconds := (from+to)/2, (float64(c.from+c.to)/2-float64(t.first))/rate, float64(c.to-c.from)/rate
	t.moved(middle, false)
	t.cells++
	r := cellReading(t.plan.Tape, c.raw, t.plan.ToneHz)
	if trouble := t.judge(r, c.raw); trouble != nil {
		var st *stop
		t.troubled += seconds
		t.bad++
		often := t.bad >= 3 && t.bad*8 > t.cells
		if errors.As(trouble, &st) && st.passing && t.troubled < troubledSeconds && !often {
			return nil
		}
		return trouble
	}
	t.troubled = 0
	r.DelayTrackedUS = t.countTurning(r, at)
	s := record.Step{N: len(t.steps) + 1, Phase: t.phase, AtSeconds: at, ScrewDeg: middle, FromDeg: from, FromHome: t.fromHome(), Turning: true, Reading: r}
	if err := t.keep(s); err != nil {
		return err
	}
	return t.checkSteps()
}

// mostLevelSD stands for a level that says nothing, dB.
const mostLevelSD = 20

// cellReading is the reading of a tone in a cell. That is too short for its
// scatter to be seen, so the uncertainties are those of a tone in white noise
// (dsp.Reading.DelayNoiseSD says how).
func cellReading(f tape.Format, raw dsp.Reading, toneHz float64) record.Reading {
	r := toRecord(f, raw, toneHz)
	cells := 2 * (dsp.TrebleHighHz - dsp.TrebleLowHz) * max(raw.Seconds, 1e-3)
	r.DelaySDUS = r.DelayNoiseSDUS
	r.TrebleSDDB = math.Min(20/math.Ln10/math.Sqrt(cells*tape.PowerOf(r.ToneToNoiseDB)), mostLevelSD)
	return finite(r)
}
