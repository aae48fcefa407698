package search

import (
	"context"

	"headtrue/sweep/record"
)

// Step drives to a position, listens and saves the reading.
func (c *Search) Step(ctx context.Context, phase string, deg, seconds float64, home bool) (record.Step, error) {
	if err := c.GoTo(ctx, deg, home); err != nil {
		return record.Step{}, err
	}
	r, err := c.Listen(ctx, seconds*c.Plan.DwellScale)
	if err != nil {
		return record.Step{}, err
	}
	r.DelayTrackedUS = c.Count(r)
	s := record.Step{N: len(c.Steps) + 1, Phase: phase, AtSeconds: c.TapeSeconds() - r.Seconds/2,
		ScrewDeg: c.ScrewDeg, FromHome: c.FromHome(), Reading: r}
	return s, c.keep(s)
}

// keep saves a step, adds it to the history and publishes it.
func (c *Search) keep(s record.Step) error {
	if err := c.Save(record.Entry{Kind: record.KindStep, Step: &s}); err != nil {
		return err
	}
	c.Steps = append(c.Steps, s)
	c.TellStep(&s)
	return nil
}
