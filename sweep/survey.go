package sweep

import (
	"context"
	"fmt"
	"math"

	"headtrue/sweep/estimate"
	"headtrue/sweep/record"
)

// surveySeconds is the listening time at each place of a survey.
const surveySeconds = 1.0

// Survey measures over a range, from the home side, and returns the screw to as found.
func Survey(ctx context.Context, s Setup) (record.End, error) {
	s.Plan.StopAndMeasure = true // it goes from place to place
	c := begin(s)
	end, err := c.survey(ctx)
	return c.conclude(ctx, end, err)
}

func (c *course) survey(ctx context.Context) (record.End, error) {
	p := c.Plan
	if p.FromDeg >= p.ToDeg || p.StepDeg <= 0 {
		return record.End{}, fmt.Errorf("a sweep goes from a lower to a higher angle in positive steps, not from %g to %g in steps of %g", p.FromDeg, p.ToDeg, p.StepDeg)
	}
	if err := c.ready(ctx); err != nil {
		return record.End{}, err
	}
	if err := c.asFound(ctx); err != nil {
		return record.End{}, err
	}
	n := int(math.Floor((p.ToDeg-p.FromDeg)/p.StepDeg+1e-9)) + 1
	for i := range n {
		deg := p.FromDeg + float64(i)*p.StepDeg
		if c.HomeSide() < 0 {
			deg = p.ToDeg - float64(i)*p.StepDeg
		}
		if _, err := c.Step(ctx, "survey", deg, surveySeconds, true); err != nil {
			return record.End{}, err
		}
	}
	v := c.DecideNow()
	v.Optimum.SDArcmin = math.Hypot(v.Optimum.SDArcmin, c.Blade.Sd)
	c.NoteFoundOff(&v)
	if err := c.Save(record.Entry{Kind: record.KindDecision, Decision: &v.Decision}); err != nil {
		return record.End{}, err
	}
	return c.backToFound(ctx, v, fmt.Sprintf("%d places measured", n))
}

// backToFound drives back to as found, lets go of the screw, and returns the end of a run
// that has measured: what was done, and whether the screw is back.
func (c *course) backToFound(ctx context.Context, v estimate.Verdict, done string) (record.End, error) {
	past := AsFoundBaseline{Found: c.Found, Decision: &v.Decision}
	if err := c.GoTo(ctx, c.likelyFound(past), true); err != nil {
		return record.End{}, err
	}
	h, err := c.homeIn(ctx, past, true)
	if err != nil {
		return record.End{}, err
	}
	if err := c.leave(ctx, nil, h.reading); err != nil {
		return record.End{}, err
	}
	end := c.proveRestored(sayRestored(h, true, past), past)
	if end.Outcome == record.Restored {
		end.Outcome = record.Measured
	}
	end.Say = done + "; " + end.Say
	return end, nil
}
