package sweep

import (
	"context"
	"fmt"
	"math"

	"headtrue/sweep/record"
)

// surveySeconds is listened at each place of a survey.
const surveySeconds = 1.0

// Survey measures over a range, from the home side, and returns the screw to
// as found: it changes nothing.
func Survey(ctx context.Context, s Setup) (record.End, error) {
	c := begin(s)
	return c.conclude(c.survey(ctx))
}

func (c *course) survey(ctx context.Context) (record.End, error) {
	p := c.plan
	if p.FromDeg >= p.ToDeg || p.StepDeg <= 0 {
		return record.End{}, fmt.Errorf("a survey goes from a lower to a higher angle in positive steps, not from %g to %g in steps of %g", p.FromDeg, p.ToDeg, p.StepDeg)
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
		if c.homeSide() < 0 {
			deg = p.ToDeg - float64(i)*p.StepDeg
		}
		if _, err := c.step(ctx, "survey", deg, surveySeconds, true); err != nil {
			return record.End{}, err
		}
	}
	v := c.decideNow()
	if err := c.save(record.Entry{Kind: record.KindDecision, Decision: &v.Decision}); err != nil {
		return record.End{}, err
	}
	h, err := c.backToFound(ctx, v)
	if err != nil {
		return record.End{}, err
	}
	end := record.End{Outcome: record.Measured, Say: fmt.Sprintf("%d places measured; the screw is back as found", n)}
	if h.heard == alike {
		end.Say += fmt.Sprintf(", by the sound within %.1f'", math.Abs(h.off))
	}
	return end, nil
}

// backToFound drives back to as found and lets go of the screw.
func (c *course) backToFound(ctx context.Context, v verdict) (homing, error) {
	past := Past{Found: c.found, Decision: &v.Decision}
	if err := c.goTo(ctx, past.place(), true); err != nil {
		return homing{}, err
	}
	h, err := c.homeIn(ctx, past, true)
	if err != nil {
		return homing{}, err
	}
	return h, c.leave(ctx, h.reading)
}
