package session

import (
	"context"
	"errors"

	"headtrue/dsp"
	"headtrue/dsp/audio"
	"headtrue/sweep/estimate"
	"headtrue/sweep/record"
)

// pull reads one block, lays it on the axis, and keeps an open clip. It lets the jig be
// asked on: a run that hangs no longer does.
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
	if c.clip != nil {
		return b, notSaved("a clip", c.clip.Add(b))
	}
	return b, nil
}

// lay lays a block, and what the jig has said meanwhile, on the axis.
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

// Sound that falls behind is told from so many seconds on, and again once it has been
// on time.
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

// pass lets one block of sound go by: the jig's way of waiting.
func (c *Session) pass(ctx context.Context) error {
	_, err := c.pull(ctx)
	return err
}

// Hear listens for so many seconds and returns what was heard, whatever it is.
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

// NewMeter is a meter for what the plan asks for.
func (c *Session) NewMeter() *dsp.Meter {
	return dsp.NewMeter(c.setup.Sound.Rate(), c.Plan.ToneHz, c.Plan.FurtherTonesHz...)
}

// Feed has meters hear the next seconds.
func (c *Session) Feed(ctx context.Context, seconds float64, meters ...*dsp.Meter) error {
	need := int64(seconds * float64(c.setup.Sound.Rate()))
	for got := int64(0); got < need; {
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

// Read is what a meter has heard.
func (c *Session) Read(m *dsp.Meter) (record.Reading, dsp.Reading) {
	raw := m.Reading()
	r := toRecord(c.Plan.Tape, raw, c.Plan.ToneHz)
	r.DelayTrackedUS = r.DelayUS
	return r, raw
}

// Lines are the lines in the spectrum of what was heard last.
func (c *Session) Lines() dsp.Lines { return c.meter.Lines() }

// MostTries is how often a place is listened to before its trouble ends the run.
const MostTries = 3

// Listen hears a place and answers only with a reading that can be used;
// sound that was lost on the way here or a pause on the tape is waited out for
// a while.
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

// passSeconds lets sound go by.
func (c *Session) passSeconds(ctx context.Context, seconds float64) error {
	need := int64(seconds * float64(c.setup.Sound.Rate()))
	for got := int64(0); got < need; {
		b, err := c.pull(ctx)
		if err != nil {
			return err
		}
		got += int64(b.Frames())
	}
	return nil
}

// CatchUp lets sound go by until no older sound waits: a live capture says so, and
// a pipe, which does not, holds less than a second. It gives up where sound waits
// for longer than any buffer does.
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

// pauseSeconds is let pass before a place is listened to again.
const pauseSeconds = 3

// WaitOut lets the tape run on for a while where the trouble may go by itself,
// a pause between two titles for example; any other trouble is returned.
func (c *Session) WaitOut(ctx context.Context, trouble error) error {
	var st *Stop
	if !errors.As(trouble, &st) || !st.Passing {
		return trouble
	}
	if st.Outcome != record.SoundLost {
		c.Tell("wait", "%s; waiting for it to pass", st.Say)
		return c.passSeconds(ctx, pauseSeconds)
	}
	return nil
}
