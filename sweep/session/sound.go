package session

import (
	"context"
	"errors"

	"headtrue/dsp"
	"headtrue/dsp/audio"
	"headtrue/sweep/estimate"
	"headtrue/sweep/record"
)

// pull reads one block, lays it on the axis and adds it to an open clip. It also renews the
// permit to poll the jig; a run that hangs stops renewing it.
func (c *Session) pull(ctx context.Context) (audio.Block, error) {
	b, err := c.setup.Sound.Next(ctx)
	if err != nil {
		return b, err
	}
	switch {
	case !c.started:
		c.first, c.started = b.Start, true
	case c.asked:
		c.first += b.Start - c.next
	}
	c.asked = false
	c.next = b.End()
	c.lay(b)
	c.hearLive(b)
	c.running.hear(b)
	if c.clip != nil {
		return b, notSaved("a clip", c.clip.Add(b))
	}
	return b, nil
}

// lay puts a block, and the jig's reports since the last block, on the axis.
func (c *Session) lay(b audio.Block) {
	if c.setup.Jig == nil {
		return
	}
	c.setup.Jig.Renew()
	for _, s := range c.setup.Jig.Heard() {
		c.axis.Jig(s.Micros, s.Asked, s.Heard)
		c.lastDeg = float64(c.setup.Jig.At(float64(s.Micros)))
	}
	c.axis.Sound(b.End(), b.Arrived, b.Lost > 0)
	c.tellLate()
}

// Late sound is reported from tellLateSeconds on, and again only after the sound was on
// time.
const tellLateSeconds = 0.5

func (c *Session) tellLate() {
	switch late := c.axis.LateSeconds(); {
	case late > tellLateSeconds && !c.behind:
		c.behind = true
		c.Warn("sound", "the sound arrives %.1f s late: the computer is busy, or the sound server is; nothing is lost", late)
	case late < tellLateSeconds/2:
		c.behind = false
	}
}

// pass reads one block of sound; the jig waits this way.
func (c *Session) pass(ctx context.Context) error {
	_, err := c.pull(ctx)
	return err
}

// Hear listens for the given seconds and returns the reading, usable or not.
func (c *Session) Hear(ctx context.Context, seconds float64) (record.Reading, dsp.Reading, error) {
	c.meter.Reset()
	if err := c.Feed(ctx, seconds, c.meter); err != nil {
		return record.Reading{}, dsp.Reading{}, err
	}
	r, raw := c.Read(c.meter)
	if estimate.DelayUsable(r) {
		c.Straight.Add(&raw.Straight)
	}
	return r, raw, nil
}

// NewMeter returns a meter for the tones of the plan.
func (c *Session) NewMeter() *dsp.Meter {
	return dsp.NewMeter(c.setup.Sound.Rate(), c.Plan.ToneHz, c.Plan.FurtherTonesHz...)
}

// Feed adds the next seconds of sound to meters. Without a meter it lets them pass.
func (c *Session) Feed(ctx context.Context, seconds float64, meters ...*dsp.Meter) error {
	for got, need := int64(0), c.samples(seconds); got < need; {
		b, err := c.pull(ctx)
		if err != nil {
			return err
		}
		got += int64(b.Frames())
		for _, m := range meters {
			m.Add(b)
		}
	}
	return nil
}

// LetPass lets the next seconds of sound pass, as tape that the run does not use.
func (c *Session) LetPass(ctx context.Context, seconds float64) error {
	counted := c.next - c.first
	err := c.Feed(ctx, seconds)
	c.first = c.next - counted
	return err
}

// Read returns the reading of a meter.
func (c *Session) Read(m *dsp.Meter) (record.Reading, dsp.Reading) {
	raw := m.Reading()
	r := toRecord(c.Plan.Tape, raw, c.Plan.ToneHz)
	r.DelayTrackedUS = r.DelayUS
	return r, raw
}

// Lines returns the spectral lines of the sound heard last.
func (c *Session) Lines() dsp.Lines { return c.meter.Lines() }

// MostTries is how often a place is listened to before its fault ends the run.
const MostTries = 3

// Listen hears a place and returns only a usable reading. It tries again after lost sound,
// and waits first if the fault may pass, such as a pause on the tape.
func (c *Session) Listen(ctx context.Context, seconds float64) (record.Reading, error) {
	var trouble error
	for range MostTries {
		r, raw, err := c.Hear(ctx, seconds)
		if err != nil {
			return r, err
		}
		if trouble = c.Judge(r, raw); trouble == nil {
			return r, nil
		}
		if err := c.WaitOut(ctx, trouble); err != nil {
			return r, err
		}
	}
	return record.Reading{}, trouble
}

// CatchUp reads sound until no older sound waits. A live capture reports this; a pipe does
// not, but holds less than a second. CatchUp gives up if sound waits for longer than any
// buffer can hold.
func (c *Session) CatchUp(ctx context.Context) error {
	const least, most = 1, 15 // seconds
	for gone := 0.0; ; {
		b, err := c.pull(ctx)
		if err != nil {
			return err
		}
		gone += c.seconds(int64(b.Frames()))
		if gone >= most || gone >= least && b.Fresh() {
			return nil
		}
	}
}

// pauseSeconds is the wait before a place is listened to again.
const pauseSeconds = 3

// WaitOut waits if the fault may pass by itself, for example a pause between two titles.
// After lost sound it does not wait. It returns any other fault.
func (c *Session) WaitOut(ctx context.Context, trouble error) error {
	var st *Stop
	if !errors.As(trouble, &st) || !st.Passing {
		return trouble
	}
	if st.Outcome != record.SoundLost {
		c.Tell("wait", "%s; waiting for it to pass", st.Say)
		return c.Feed(ctx, pauseSeconds)
	}
	return nil
}
