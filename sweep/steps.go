package sweep

import (
	"context"

	"headtrue/sweep/record"
)

// step drives to a position, listens and saves what was heard.
func (c *search) step(ctx context.Context, phase string, deg, seconds float64, home bool) (record.Step, error) {
	if err := c.goTo(ctx, deg, home); err != nil {
		return record.Step{}, err
	}
	r, err := c.listen(ctx, seconds*c.plan.DwellScale)
	if err != nil {
		return record.Step{}, err
	}
	r.DelayTrackedUS = c.count(r)
	s := record.Step{N: len(c.steps) + 1, Phase: phase, AtSeconds: c.tapeSeconds() - r.Seconds/2,
		ScrewDeg: c.screwDeg, FromHome: c.fromHome(), Reading: r}
	return s, c.keep(s)
}

// keep saves a step, remembers it and tells it.
func (c *search) keep(s record.Step) error {
	if err := c.save(record.Entry{Kind: record.KindStep, Step: &s}); err != nil {
		return err
	}
	c.steps = append(c.steps, s)
	c.tellStep(&s)
	return nil
}
