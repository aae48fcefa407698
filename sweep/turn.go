package sweep

import (
	"context"
	"errors"

	"headtrue/sweep/record"
)

// troubledSeconds of sound that cannot be used end a turn.
const troubledSeconds = 0.6

// turned keeps the cells of one turn as steps.
type turned struct {
	*search
	phase    string
	troubled float64 // seconds on end
	cells    int
	bad      int // cells that could not be used
}

// turn drives towards a position without a stop and keeps what it hears, until it is there
// or enough reports that it was enough.
func (c *search) turn(ctx context.Context, phase string, to, arcminPerS float64, enough func() bool) error {
	c.beginRun()
	t := &turned{search: c, phase: phase}
	return c.session.turn(ctx, to, arcminPerS/c.perDeg(), t.keepCell, enough)
}

// keepCell keeps a cell as a step.
func (t *turned) keepCell(c turnCell) error {
	t.cells++
	r := cellReading(t.plan.Tape, c.raw, t.plan.ToneHz)
	if trouble := t.judge(r, c.raw); trouble != nil {
		var st *stop
		t.troubled += c.seconds
		t.bad++
		often := t.bad >= 3 && t.bad*8 > t.cells
		if errors.As(trouble, &st) && st.passing && t.troubled < troubledSeconds && !often {
			return nil
		}
		return trouble
	}
	t.troubled = 0
	r.DelayTrackedUS = t.countTurning(r, c.atSeconds)
	s := record.Step{N: len(t.steps) + 1, Phase: t.phase, AtSeconds: c.atSeconds, ScrewDeg: (c.fromDeg + c.toDeg) / 2, FromDeg: c.fromDeg, FromHome: t.fromHome(), Turning: true, Reading: r}
	if err := t.keep(s); err != nil {
		return err
	}
	return t.checkSteps()
}
