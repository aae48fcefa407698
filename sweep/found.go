package sweep

import (
	"context"

	"headtrue/sweep/estimate"
	"headtrue/sweep/record"
	"headtrue/sweep/search"
	"headtrue/sweep/session"
)

// asFound listens with the blade off, records position zero before any move, engages, and
// listens again.
func (c *course) asFound(ctx context.Context) error {
	c.StartTape()
	c.Tell("as found", "listening with the blade off the screw")
	if err := c.Ask(ctx, session.BladeOff); err != nil {
		return err
	}
	off, err := c.Listen(ctx, c.Plan.ProofSeconds/2)
	if err != nil {
		return err
	}
	if c.Found, err = c.NotePosition(ctx); err != nil {
		return err
	}
	c.Found.BladeOff = &off
	c.TapeHeard()
	if err := c.Save(record.Entry{Kind: record.KindFound, Found: &c.Found}); err != nil {
		return err
	}
	return c.engage(ctx)
}

// engage energises first because the rotor may jump. Then it has the blade seated and
// measures how that tilts the head.
func (c *course) engage(ctx context.Context) error {
	c.Tell("engage", "holding the motor, then seating the blade")
	var err error
	if c.Found.ShaftAngle, err = c.Energise(ctx); err != nil {
		return err
	}
	if err := c.Handle(ctx, session.SeatBlade); err != nil {
		return err
	}
	if err := c.OpenClip("as-found"); err != nil {
		return err
	}
	r, err := c.Listen(ctx, c.Plan.ProofSeconds)
	if err == nil && c.Plan.ToneHz == 0 && c.Plan.ProofSeconds < search.ApproachAgain && !estimate.DelayUsable(r) {
		r, err = c.Listen(ctx, search.ApproachAgain) // without a delay the treble must be searched
	}
	if err != nil {
		return err
	}
	name, err := c.CloseClip()
	if err != nil {
		return err
	}
	c.CountAnew(&r)
	c.Found.Seated, c.Found.Clip = &r, name
	c.TapeHeard()
	c.NoteBlade()
	return c.Save(record.Entry{Kind: record.KindFound, Found: &c.Found})
}
