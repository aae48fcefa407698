package session

import (
	"context"

	"headtrue/dsp"
	"headtrue/jig"
	"headtrue/sweep/record"
)

// hearPass reads a block and adds it to the meter; it records the sound of stepping.
func (c *Session) hearPass(ctx context.Context) error {
	b, err := c.pull(ctx)
	if err == nil {
		c.meter.Add(b)
	}
	return err
}

// HearMotor hears the motor hold, then step 20 degrees to both sides of its position. The
// blade must be off the screw.
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

// bothClocks is the length of one stretch of sound by the sound's clock and by the jig's
// clock, in seconds.
type bothClocks struct{ Sound, Jig float64 }

// HearByBothClocks listens for the given seconds of the sound's clock and measures the same
// time by the jig's clock. The result is nil if the jig's clock cannot be read.
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

// jigMicros reads the jig's clock, the only second clock of a run.
func (c *Session) jigMicros(ctx context.Context) (uint64, bool) {
	if !c.HasJig() {
		return 0, false
	}
	st, err := c.setup.Jig.Status(ctx)
	return st.Micros, err == nil
}

// Greeting returns the greeting that the jig sent.
func (c *Session) Greeting() jig.Greeting { return c.setup.Jig.Greeting() }
