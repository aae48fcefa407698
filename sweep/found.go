package sweep

import (
	"context"

	"headtrue/sweep/estimate"

	"headtrue/sweep/record"
)

// asFound notes position zero before anything moves, listens with the blade
// off, engages, and listens again.
func (c *course) asFound(ctx context.Context) error {
	c.startTape()
	c.tell("as found", "listening with the blade off the screw")
	if err := c.ask(ctx, BladeOff); err != nil {
		return err
	}
	off, err := c.listen(ctx, c.plan.ProofSeconds/2)
	if err != nil {
		return err
	}
	if c.found, err = c.notePosition(ctx); err != nil {
		return err
	}
	c.found.BladeOff = &off
	c.ref = &off
	if err := c.save(record.Entry{Kind: record.KindFound, Found: &c.found}); err != nil {
		return err
	}
	return c.engage(ctx)
}

// engage energises first, since the rotor may jump, has the blade seated, and
// listens to what that did to the head.
func (c *course) engage(ctx context.Context) error {
	c.tell("engage", "holding the motor, then seating the blade")
	var err error
	if c.found.ShaftAngle, err = c.energise(ctx); err != nil {
		return err
	}
	if err := c.handle(ctx, SeatBlade); err != nil {
		return err
	}
	if err := c.openClip("as-found"); err != nil {
		return err
	}
	r, err := c.listen(ctx, c.plan.ProofSeconds)
	if err == nil && c.plan.ToneHz == 0 && c.plan.ProofSeconds < approachAgain && !estimate.DelayUsable(r) {
		r, err = c.listen(ctx, approachAgain) // without it the treble must be searched
	}
	if err != nil {
		return err
	}
	name, err := c.closeClip()
	if err != nil {
		return err
	}
	c.last = place{r.DelayUS, c.screwDeg}
	r.DelayTrackedUS = c.count(r)
	c.found.Seated, c.found.Clip = &r, name
	c.ref = &r
	c.noteBlade()
	return c.save(record.Entry{Kind: record.KindFound, Found: &c.found})
}
