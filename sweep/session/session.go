package session

import (
	"context"
	"fmt"

	"headtrue/dsp"
	"headtrue/sweep/axis"
	"headtrue/sweep/estimate"
	"headtrue/sweep/record"
	"headtrue/sweep/stream"
)

// Session is all input and output of one run.
type Session struct {
	setup Setup
	Plan  estimate.Task
	meter *dsp.Meter
	axis  *axis.Axis
	clip  Clip
	// first and next are sample numbers: where the tape seconds began to be
	// counted, and the end of the last block.
	first, next int64
	started     bool
	asked       bool // a person was waited for: the sound that went by does not count
	behind      bool // the sound was told to be late
	phase       string
	prompts     int // asked so far
	live        live
	// Straight is whether the programme's phase was the line of one delay
	// wherever the delay could be used.
	Straight dsp.Straight
	// ref is the reading that silence and dead channels are judged against.
	ref *record.Reading
	// ScrewDeg is where the screw was last driven to, homeRun how far it has
	// been driven in the home direction without a move back: once that exceeds
	// any slack, the screw has arrived from its home side.
	ScrewDeg float64
	homeRun  float64
	// Path is where the jig stood when.
	Path []estimate.Whereabouts
	// Trip is the jig's way since as found, lastDeg where the jig was heard to be last,
	// and decided the last decision: by them goes where a run that breaks off has left
	// the screw.
	Trip    Trip
	lastDeg float64
	epoch   uint16 // of the count that degrees are told in
	Decided *record.Decision
	// bladeAway says that the screw has been let go of at its place.
	bladeAway bool
}

// New begins a run.
func New(s Setup) *Session {
	rate, homeSide := s.Sound.Rate(), 1.0
	if s.Jig != nil && s.Jig.Profile().HomeSide < 0 {
		homeSide = -1
	}
	s.Plan = s.Plan.Defaults()
	return &Session{
		setup: s, Plan: estimate.NewTask(s.Plan, homeSide),
		meter: dsp.NewMeter(rate, s.Plan.ToneHz, s.Plan.FurtherTonesHz...),
		axis:  axis.New(rate),
	}
}

// Anew is a session in the middle of a run: it has the screw where it stands and goes on
// counting the tape, but nothing of what was heard.
func (c *Session) Anew() *Session {
	n := New(c.setup)
	n.first, n.next, n.started = c.first, c.next, c.started
	n.ref, n.ScrewDeg, n.homeRun, n.Trip, n.epoch, n.Decided = c.ref, c.ScrewDeg, c.homeRun, c.Trip, c.epoch, c.Decided
	n.Plan.TapeBudgetSeconds += c.TapeSeconds()
	return n
}

// RestoreCommand is the command that undoes this run.
func (c *Session) RestoreCommand() string { return c.setup.RestoreCommand }

// Against has silence and dead channels judged against a reading from now on.
func (c *Session) Against(r *record.Reading) { c.ref = r }

// HasJig reports whether a jig is there to be moved.
func (c *Session) HasJig() bool { return c.setup.Jig != nil }

// StartTape has tape seconds count from here.
func (c *Session) StartTape() { c.started = false }

// Tell says what is done in a phase of the run.
func (c *Session) Tell(phase, format string, args ...any) {
	c.enter(phase)
	c.publish(stream.Event{Kind: stream.Said, Say: fmt.Sprintf(format, args...)})
}

// Warn says that something is not as it should be, though the run goes on.
func (c *Session) Warn(about, format string, args ...any) {
	c.publish(stream.Event{Kind: stream.Warned, Phase: about, Say: fmt.Sprintf(format, args...)})
}

// TellStep passes a step on that has been saved.
func (c *Session) TellStep(s *record.Step) {
	c.enter(s.Phase)
	c.publish(stream.Event{Kind: stream.Stepped, Step: s})
}

// TellEnd passes on how the run ended.
func (c *Session) TellEnd(end *record.End) {
	c.enter("end")
	c.publish(stream.Event{Kind: stream.Ended, Say: end.Say, End: end})
}

// enter says that a phase begins, if it is another one.
func (c *Session) enter(phase string) {
	if phase != c.phase {
		c.phase = phase
		c.publish(stream.Event{Kind: stream.Began})
	}
}

// publish passes an event on, of the phase under way if it is of no other.
func (c *Session) publish(e stream.Event) {
	if c.setup.Tell == nil {
		return
	}
	if e.Phase == "" {
		e.Phase = c.phase
	}
	e.TapeSeconds = c.TapeSeconds()
	c.setup.Tell(e)
}

// Save makes an entry durable.
func (c *Session) Save(e record.Entry) error {
	e.TapeSeconds = c.TapeSeconds()
	if e.Decision != nil {
		saved := *e.Decision
		c.Decided = &saved
	}
	if c.setup.Save != nil {
		if err := c.setup.Save(e); err != nil {
			return notSaved("the record", err)
		}
	}
	if e.Decision != nil {
		c.publish(stream.Event{Kind: stream.Decided, Decision: c.Decided})
	}
	return nil
}

// Ask has a person do something.
func (c *Session) Ask(ctx context.Context, what string) error {
	if c.setup.Ask == nil {
		return nil
	}
	c.asked = true
	c.prompts++
	asked := &stream.Prompt{ID: c.prompts, Text: what}
	c.publish(stream.Event{Kind: stream.Asked, Prompt: asked})
	err := c.setup.Ask(ctx, *asked)
	c.publish(stream.Event{Kind: stream.Done, Prompt: asked})
	return err
}

func (c *Session) seconds(frames int64) float64 {
	return float64(frames) / float64(c.setup.Sound.Rate())
}

// TapeSeconds is the sound consumed since the first block that counts.
func (c *Session) TapeSeconds() float64 {
	if !c.started {
		return 0
	}
	return c.seconds(c.next - c.first)
}
