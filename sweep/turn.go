package sweep

import (
	"context"
	"errors"
	"math"

	"headtrue/dsp"
	"headtrue/jig"
	"headtrue/sweep/record"
)

// A tone is heard while the screw turns, in cells so short that the head moves
// by less than a quarter of a period in each: two frames and a half.
const cellSeconds = 0.04

// troubledSeconds of sound that cannot be used end a turn.
const troubledSeconds = 0.6

// turning is one turn under way.
type turning struct {
	*course
	phase    string
	enough   func() bool // nil where only the target ends the turn
	from     float64     // where the screw was when the cell began
	begun    float64     // tape seconds then
	troubled float64     // seconds on end
	cells    int
	bad      int // cells that could not be used
}

// turn drives towards a position without a stop, listening in cells, until it
// is there or enough says so. Where enough was not said on the way, what the tape
// played before the screw stood is still heard, until it is: sound comes late,
// but not later than the settling time. Without enough it is left to the next
// turn.
func (c *course) turn(ctx context.Context, phase string, to, arcminPerS float64, enough func() bool) error {
	c.beginRun()
	c.meter.Reset()
	t := &turning{course: c, phase: phase, enough: enough, from: c.screwDeg, begun: c.tapeSeconds()}
	st, err := c.Jig.Turn(ctx, jig.Degrees(to), arcminPerS/c.perDeg(), t.watch)
	if err != nil {
		return err
	}
	ended := enough == nil || enough()
	for until := t.tapeSeconds() + c.plan.SettleSeconds; !ended && t.tapeSeconds() < until; {
		if ended, err = t.watch(ctx, st); err != nil {
			return err
		}
	}
	c.moved(float64(st.Position), false)
	return nil
}

// watch hears one block. The jig's word is from just before it.
func (t *turning) watch(ctx context.Context, st jig.Status) (bool, error) {
	if t.tapeSeconds()-t.begun >= cellSeconds {
		if err := t.cell(float64(st.Position)); err != nil {
			return false, err
		}
		if t.enough != nil && t.enough() {
			return true, nil
		}
	}
	b, err := t.pull(ctx)
	if err == nil {
		t.meter.Add(b)
	}
	return false, err
}

// cell closes a cell with the screw at a position.
func (t *turning) cell(deg float64) error {
	raw := t.meter.Reading()
	t.meter.Reset()
	now := t.tapeSeconds()
	from, middle, at, seconds := t.from, (t.from+deg)/2, (t.begun+now)/2, now-t.begun
	t.from, t.begun = deg, now
	t.moved(middle, false)
	t.cells++
	r := cellReading(raw, t.plan.ToneHz)
	if trouble := t.judge(r, raw); trouble != nil {
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
func cellReading(raw dsp.Reading, toneHz float64) record.Reading {
	r := toRecord(raw, toneHz)
	cells := 2 * (dsp.TrebleHighHz - dsp.TrebleLowHz) * max(raw.Seconds, 1e-3)
	r.DelaySDUS = r.DelayNoiseSDUS
	r.TrebleSDDB = math.Min(20/math.Ln10/math.Sqrt(cells*powerOf(r.ToneToNoiseDB)), mostLevelSD)
	return finite(r)
}
