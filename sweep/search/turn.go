package search

import (
	"context"
	"errors"

	"headtrue/sweep/record"
	"headtrue/sweep/session"
)

// troubledSeconds is the length of unusable sound that ends a turn.
const troubledSeconds = 0.6

// turned keeps the cells of one turn as steps.
type turned struct {
	*Search
	phase    string
	troubled float64 // seconds in a row
	cells    int
	bad      int // unusable cells
}

// turn drives to a position without a stop and keeps the sound as steps. It ends at the
// position or when enough returns true.
func (c *Search) turn(ctx context.Context, phase string, to, arcminPerS float64, enough func() bool) error {
	c.beginRun()
	t := &turned{Search: c, phase: phase}
	return c.Session.Turn(ctx, to, arcminPerS/c.perDeg(), t.keepCell, enough)
}

// keepCell saves a cell as a step.
func (t *turned) keepCell(c session.Cell) error {
	t.cells++
	r := session.CellReading(t.Plan.Tape, c.Raw, t.Plan.ToneHz)
	if trouble := t.Judge(r, c.Raw); trouble != nil {
		var st *session.Stop
		t.troubled += c.Seconds
		t.bad++
		often := t.bad >= 3 && t.bad*8 > t.cells
		if errors.As(trouble, &st) && st.Passing && t.troubled < troubledSeconds && !often {
			return nil
		}
		return trouble
	}
	t.troubled = 0
	r.DelayTrackedUS = t.countTurning(r, c.AtSeconds)
	s := record.Step{N: len(t.Steps) + 1, Phase: t.phase, AtSeconds: c.AtSeconds, ScrewDeg: (c.FromDeg + c.ToDeg) / 2, FromDeg: c.FromDeg, FromHome: t.FromHome(), Turning: true, Reading: r}
	if err := t.keep(s); err != nil {
		return err
	}
	return t.checkSteps()
}
