package sweep

import (
	"context"

	"headtrue/sweep/estimate"

	"headtrue/jig"
	"headtrue/sweep/record"
)

// engageSeconds go by from energising or releasing until all has settled.
const engageSeconds = 0.8

// asFound notes position zero before anything moves, listens with the blade
// off, engages, and listens again.
func (c *course) asFound(ctx context.Context) error {
	c.started = false // tape seconds count from here
	c.tell("as found", "listening with the blade off the screw")
	if err := c.ask(ctx, BladeOff); err != nil {
		return err
	}
	off, err := c.listen(ctx, c.plan.ProofSeconds/2)
	if err != nil {
		return err
	}
	if err := c.notePosition(ctx); err != nil {
		return err
	}
	c.found.BladeOff = &off
	c.ref = &off
	if err := c.save(record.Entry{Kind: record.KindFound, Found: &c.found}); err != nil {
		return err
	}
	return c.engage(ctx)
}

// notePosition makes the jig's count the one that the record speaks of. A count
// that the jig itself does not trust is declared anew: degrees are relative to
// where the screw stands now in any case.
func (c *course) notePosition(ctx context.Context) error {
	st, err := c.Jig.Status(ctx)
	if err != nil {
		return err
	}
	memory := st.Memory
	if memory != jig.Kept {
		if err := c.Jig.Declare(ctx, st.Microsteps); err != nil {
			return err
		}
		if st, err = c.Jig.Status(ctx); err != nil {
			return err
		}
	}
	c.Jig.SetZero(st.Microsteps)
	c.trip, c.epoch = estimate.Trip{0}, st.Epoch
	if c.plan.SlackTakenUp {
		c.homeRun = float64(c.Jig.Profile().OvershootDegrees)
	}
	if err := c.Jig.SetWindow(ctx, jig.Degrees(-c.reach()), jig.Degrees(c.reach())); err != nil {
		return err
	}
	c.found = record.Found{
		PositionMicrosteps: st.Microsteps, Epoch: st.Epoch, BootCount: st.Boot, Memory: memory.String(),
		MicrostepsPerTurn: c.Jig.Profile().MicrostepsPerTurn(), SlackTakenUp: c.plan.SlackTakenUp,
	}
	return nil
}

// reach is the window plus the way that arriving from the home side needs, and
// a degree for the rounding to microsteps.
func (c *course) reach() float64 {
	return c.plan.WindowDeg + float64(c.Jig.Profile().OvershootDegrees) + 1
}

// engage energises first, since the rotor may jump, has the blade seated, and
// listens to what that did to the head.
func (c *course) engage(ctx context.Context) error {
	c.tell("engage", "holding the motor, then seating the blade")
	if err := c.Jig.Energise(ctx); err != nil {
		return err
	}
	angle, seen, err := c.Jig.ShaftAngle(ctx)
	if err != nil {
		return err
	}
	if seen {
		c.found.ShaftAngle = &angle
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

// handle has a person do something at the screw and waits until all has settled.
// The tape that runs meanwhile does not count.
func (c *course) handle(ctx context.Context, p Prompt) error {
	counted := c.next - c.first
	if err := c.ask(ctx, p); err != nil {
		return err
	}
	if err := c.passSeconds(ctx, engageSeconds); err != nil {
		return err
	}
	c.first = c.next - counted
	return nil
}

// passSeconds lets sound go by.
func (c *course) passSeconds(ctx context.Context, seconds float64) error {
	need := int64(seconds * float64(c.Sound.Rate()))
	for got := int64(0); got < need; {
		b, err := c.pull(ctx)
		if err != nil {
			return err
		}
		got += int64(b.Frames())
	}
	return nil
}

func (c *course) openClip(name string) error {
	if c.Clip == nil {
		return nil
	}
	clip, err := c.Clip(name)
	if err == nil {
		c.clip = clip
	}
	return notSaved("a clip", err)
}

func (c *course) closeClip() (string, error) {
	if c.clip == nil {
		return "", nil
	}
	clip := c.clip
	c.clip = nil
	return clip.Name(), notSaved("a clip", clip.Close())
}
