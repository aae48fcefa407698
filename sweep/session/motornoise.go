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

// noiseAwayDeg is the angle by which the motor steps to both sides to be heard.
const noiseAwayDeg = 20

// HearHolding energises the motor and hears it hold. The blade must be off the screw.
func (c *Session) HearHolding(ctx context.Context) (dsp.Reading, error) {
	j := c.setup.Jig
	st, err := j.Status(ctx)
	if err != nil {
		return dsp.Reading{}, err
	}
	j.SetZero(st.Microsteps)
	if err := j.SetWindow(ctx, -noiseAwayDeg-10, noiseAwayDeg+10); err != nil {
		return dsp.Reading{}, err
	}
	if err := j.Energise(ctx); err != nil {
		return dsp.Reading{}, err
	}
	if err := c.Feed(ctx, 0.2); err != nil {
		return dsp.Reading{}, err
	}
	_, hold, err := c.Hear(ctx, 1)
	return hold, err
}

// HearStepping hears the energised motor step to both sides of its position and back. The
// blade must be off the screw.
func (c *Session) HearStepping(ctx context.Context) (dsp.Reading, error) {
	c.meter.Reset()
	for _, deg := range []jig.Degrees{noiseAwayDeg, -noiseAwayDeg, 0} {
		if _, err := c.setup.Jig.MoveTo(ctx, deg, c.hearPass); err != nil {
			return dsp.Reading{}, err
		}
	}
	return c.meter.Reading(), nil
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
