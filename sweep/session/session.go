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

// Session does all input and output of one run.
type Session struct {
	setup Setup
	Plan  estimate.Task
	meter *dsp.Meter
	axis  *axis.Axis
	clip  Clip
	// first is the sample at which tape seconds begin to count, next the end of the last
	// block.
	first, next int64
	started     bool
	asked       bool // a person was waited for: the sound meanwhile does not count
	behind      bool // a warning about late sound was published
	phase       string
	prompts     int // requests to a person in this session
	live        live
	running     running
	// Straight tests whether the programme's phase fits a single delay, over all readings
	// with a usable delay.
	Straight dsp.Straight
	// TrebleAlone makes Judge pass a dead channel and mono sound.
	TrebleAlone bool
	tapeHeard   bool // silence from now on means that the tape has ended
	// ScrewDeg is the last position of the screw. homeRun is the distance driven in the home
	// direction without a move back: once it exceeds all backlash, the screw has arrived
	// from its home side.
	ScrewDeg float64
	homeRun  float64
	// Path is the list of positions of the jig with their times.
	Path []estimate.Whereabouts
	// Trip is the jig's way since as found, lastDeg its last reported position, and decided
	// the last decision. They give the position of the screw after a run that breaks off.
	Trip    Trip
	lastDeg float64
	epoch   uint16 // epoch of the count behind the degrees
	Decided *record.Decision
	// bladeAway means that the screw has been let go at its place.
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
		axis:  axis.New(rate), running: runningOf(s),
	}
}

// Anew returns a session for a new start within a run. It keeps the position of the screw,
// the tape time and the count of questions, but no sound heard before.
func (c *Session) Anew() *Session {
	n := New(c.setup)
	n.first, n.next, n.started, n.prompts = c.first, c.next, c.started, c.prompts
	n.ScrewDeg, n.homeRun, n.Trip, n.lastDeg, n.epoch = c.ScrewDeg, c.homeRun, c.Trip, c.lastDeg, c.epoch
	n.tapeHeard, n.Decided, n.running = c.tapeHeard, c.Decided, c.running
	n.Plan.TapeBudgetSeconds += c.TapeSeconds()
	return n
}

// RestoreCommand returns the command that undoes this run.
func (c *Session) RestoreCommand() string { return c.setup.RestoreCommand }

// TapeHeard notes that the tape plays: silence from now on means that it has ended.
func (c *Session) TapeHeard() { c.tapeHeard = true }

// HasJig reports whether the run has a jig to move.
func (c *Session) HasJig() bool { return c.setup.Jig != nil }

// StartTape makes tape seconds count from the next block.
func (c *Session) StartTape() { c.started = false }

// Tell publishes a message about the present phase of the run.
func (c *Session) Tell(phase, format string, args ...any) {
	c.enter(phase)
	c.publish(stream.Event{Kind: stream.Said, Say: fmt.Sprintf(format, args...)})
}

// Warn publishes a warning; the run goes on.
func (c *Session) Warn(about, format string, args ...any) {
	c.publish(stream.Event{Kind: stream.Warned, Phase: about, Say: fmt.Sprintf(format, args...)})
}

// Guide publishes a request to the person who turns the screw by hand, with its words if it is
// new.
func (c *Session) Guide(phase string, g stream.Guidance, words string) {
	c.enter(phase)
	c.publish(stream.Event{Kind: stream.Guided, Guidance: &g, Say: words})
}

// TellStep publishes a step after it was saved.
func (c *Session) TellStep(s *record.Step) {
	c.enter(s.Phase)
	c.publish(stream.Event{Kind: stream.Stepped, Step: s})
}

// TellEnd publishes the end of the run.
func (c *Session) TellEnd(end *record.End) {
	c.enter("end")
	c.publish(stream.Event{Kind: stream.Ended, Say: end.Say, End: end})
}

// enter publishes the beginning of a phase if it differs from the phase under way.
func (c *Session) enter(phase string) {
	if phase != c.phase {
		c.phase = phase
		c.publish(stream.Event{Kind: stream.Began})
	}
}

// publish sends an event. An event without a phase gets the phase under way.
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

// Ask asks a person to do something and waits until it is done.
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

// TapeSeconds returns the length of sound since the first block that counts.
func (c *Session) TapeSeconds() float64 {
	if !c.started {
		return 0
	}
	return c.seconds(c.next - c.first)
}

// live is the live reading under way. Its meter is nil unless readings are requested.
type live struct {
	meter  *dsp.Meter
	frames int64
}

// samples converts seconds to a number of samples.
func (c *Session) samples(seconds float64) int64 {
	return int64(seconds * float64(c.setup.Sound.Rate()))
}
