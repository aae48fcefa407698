package session

import (
	"context"

	"headtrue/dsp"
	"headtrue/jig"
	"headtrue/sweep/record"
)

// hearPass lets a block go by and listens to it: the sound of stepping.
func (c *Session) hearPass(ctx context.Context) error {
	b, err := c.pull(ctx)
	if err == nil {
		c.meter.Add(b)
	}
	return err
}

// HearMotor hears the motor hold, and then step a little to both sides of where it stands.
// The blade must be off the screw.
func (c *Session) HearMotor(ctx context.Context) (hold, stepping dsp.Reading, err error) {
	const away = 20 // degrees
	j := c.setup.Jig
	st, err := j.Status(ctx)
	if err != nil {
		return hold, stepping, err
	}
	j.SetZero(st.Microsteps)
	if err := j.SetWindow(ctx, -away-10, away+10); err != nil {
		return hold, stepping, err
	}
	if err := j.Energise(ctx); err != nil {
		return hold, stepping, err
	}
	if err := c.passSeconds(ctx, 0.2); err != nil {
		return hold, stepping, err
	}
	if _, hold, err = c.Hear(ctx, 1); err != nil {
		return hold, stepping, err
	}
	c.meter.Reset()
	for _, deg := range []jig.Degrees{away, -away, 0} {
		if _, err := j.MoveTo(ctx, deg, c.hearPass); err != nil {
			return hold, stepping, err
		}
	}
	return hold, c.meter.Reading(), nil
}

// bothClocks is how long a stretch of sound was by the sound's clock and by the jig's,
// seconds.
type bothClocks struct{ Sound, Jig float64 }

// HearByBothClocks listens for so many seconds by the sound's clock, which the jig's own
// is held against; nil where that cannot be read.
func (c *Session) HearByBothClocks(ctx context.Context, seconds float64) (record.Reading, dsp.Reading, *bothClocks, error) {
	before, started := c.jigMicros(ctx)
	began := c.next
	r, raw, err := c.Hear(ctx, seconds)
	if err != nil {
		return r, raw, nil, err
	}
	after, ended := c.jigMicros(ctx)
	if !started || !ended {
		return r, raw, nil, nil
	}
	return r, raw, &bothClocks{c.seconds(c.next - began), float64(after-before) / 1e6}, nil
}

// jigMicros is the jig's own clock, the only other clock a run has.
func (c *Session) jigMicros(ctx context.Context) (uint64, bool) {
	if !c.HasJig() {
		return 0, false
	}
	st, err := c.setup.Jig.Status(ctx)
	return st.Micros, err == nil
}

// Greeting is what the jig has said of itself.
func (c *Session) Greeting() jig.Greeting { return c.setup.Jig.Greeting() }
