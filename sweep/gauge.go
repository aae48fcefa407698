package sweep

import (
	"context"
	"fmt"

	"headtrue/sweep/estimate"
	"headtrue/sweep/record"
	"headtrue/sweep/session"
)

// Gauge measures the tilt of as found from the optimum the given number of times, with the
// blade seated once, and puts the screw back. Each time it hears as found anew, searches the
// optimum as Align does, without data from earlier times, and saves a decision. The first
// time the screw stands as found; the second time it is put there by the sound, later by the
// jig's count of that place.
func Gauge(ctx context.Context, s Setup, times int) (record.End, error) {
	c, end, err := begin(s).gauge(ctx, times)
	return c.conclude(ctx, end, err)
}

// gauge also returns the last course under way.
func (c *course) gauge(ctx context.Context, times int) (*course, record.End, error) {
	if err := c.ready(ctx); err != nil {
		return c, record.End{}, err
	}
	if err := c.asFound(ctx); err != nil {
		return c, record.End{}, err
	}
	v, err := c.findOnce(ctx)
	if err != nil {
		return c, record.End{}, err
	}
	past := AsFoundBaseline{Found: c.Found, Decision: &v.Decision}
	for n := 2; n <= times; n++ {
		if err := c.GoTo(ctx, past.place(), true); err != nil {
			return c, record.End{}, err
		}
		if n == 2 {
			if _, err := c.homeIn(ctx, past, true); err != nil {
				return c, record.End{}, err
			}
			v.FoundHomeDeg = c.ScrewDeg
		}
		c.Tell("again", "measurement %d of %d", n, times)
		c = c.again()
		if err := c.hearAgain(ctx); err != nil {
			return c, record.End{}, err
		}
		if _, err := c.findOnce(ctx); err != nil {
			return c, record.End{}, err
		}
	}
	end, err := c.backToFound(ctx, v, fmt.Sprintf("measured %d times", times))
	return c, end, err
}

// findOnce searches for the optimum and goes there, which saves the tilt of as found from
// it.
func (c *course) findOnce(ctx context.Context) (estimate.Verdict, error) {
	if err := c.Bracket(ctx); err != nil {
		return estimate.Verdict{}, err
	}
	v, err := c.Refine(ctx)
	if err != nil {
		return v, err
	}
	if _, err := c.ToOptimum(ctx, &v); err != nil {
		return v, err
	}
	if v.FoundOffArcmin == nil {
		return v, &session.Stop{Outcome: record.TooUncertain, Say: "the tilt as found is not known: no place of the screw sounds like it",
			Do: "put the screw back with restore, then use a tone or a passage with steadier treble"}
	}
	return v, nil
}

// again returns a new course within a run. It keeps the screw's position, but no
// measurements.
func (c *course) again() *course { return &course{Search: c.Search.Anew()} }

// hearAgain listens to the screw, which stands as found again.
func (c *course) hearAgain(ctx context.Context) error {
	r, err := c.Listen(ctx, c.Plan.ProofSeconds)
	if err != nil {
		return err
	}
	c.CountAnew(&r)
	c.Found.Seated = &r
	s := record.Step{Phase: "as found", AtSeconds: c.TapeSeconds() - r.Seconds/2, ScrewDeg: c.ScrewDeg, FromHome: true, Reading: r}
	return c.Save(record.Entry{Kind: record.KindStep, Step: &s})
}
