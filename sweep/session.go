package sweep

import (
	"context"
	"fmt"

	"headtrue/dsp"
	"headtrue/sweep/axis"
	"headtrue/sweep/estimate"
	"headtrue/sweep/record"
)

// session is all input and output of one run.
type session struct {
	setup Setup
	plan  estimate.Task
	meter *dsp.Meter
	axis  *axis.Axis
	clip  Clip
	// first and next are sample numbers: where the tape seconds began to be
	// counted, and the end of the last block.
	first, next int64
	started     bool
	asked       bool // a person was waited for: the sound that went by does not count
	behind      bool // the sound was told to be late
	// straight is whether the programme's phase was the line of one delay
	// wherever the delay could be used.
	straight dsp.Straight
	// ref is the reading that silence and dead channels are judged against.
	ref *record.Reading
	// screwDeg is where the screw was last driven to, homeRun how far it has
	// been driven in the home direction without a move back: once that exceeds
	// any slack, the screw has arrived from its home side.
	screwDeg float64
	homeRun  float64
	// path is where the jig stood when.
	path []estimate.Whereabouts
	// trip is the jig's way since as found, lastDeg where the jig was heard to be last,
	// and decided the last decision: by them goes where a run that breaks off has left
	// the screw.
	trip    estimate.Trip
	lastDeg float64
	epoch   uint16 // of the count that degrees are told in
	decided *record.Decision
	// bladeAway says that the screw has been let go of at its place.
	bladeAway bool
}

// newSession begins a run.
func newSession(s Setup) *session {
	rate, homeSide := s.Sound.Rate(), 1.0
	if s.Jig != nil && s.Jig.Profile().HomeSide < 0 {
		homeSide = -1
	}
	s.Plan = s.Plan.Defaults()
	return &session{
		setup: s, plan: estimate.NewTask(s.Plan, homeSide),
		meter: dsp.NewMeter(rate, s.Plan.ToneHz, s.Plan.FurtherTonesHz...),
		axis:  axis.New(rate),
	}
}

// anew is a session in the middle of a run: it has the screw where it stands and goes on
// counting the tape, but nothing of what was heard.
func (c *session) anew() *session {
	n := newSession(c.setup)
	n.first, n.next, n.started = c.first, c.next, c.started
	n.ref, n.screwDeg, n.homeRun, n.trip, n.epoch, n.decided = c.ref, c.screwDeg, c.homeRun, c.trip, c.epoch, c.decided
	n.plan.TapeBudgetSeconds += c.tapeSeconds()
	return n
}

// hasJig reports whether a jig is there to be moved.
func (c *session) hasJig() bool { return c.setup.Jig != nil }

// startTape has tape seconds count from here.
func (c *session) startTape() { c.started = false }

// tell passes an event on.
func (c *session) tell(phase, format string, args ...any) {
	if c.setup.Tell != nil {
		c.setup.Tell(Event{Phase: phase, Say: fmt.Sprintf(format, args...), TapeSeconds: c.tapeSeconds()})
	}
}

// tellStep passes a step on.
func (c *session) tellStep(s *record.Step) {
	if c.setup.Tell != nil {
		c.setup.Tell(Event{Phase: s.Phase, Step: s, TapeSeconds: c.tapeSeconds()})
	}
}

// save makes an entry durable.
func (c *session) save(e record.Entry) error {
	e.TapeSeconds = c.tapeSeconds()
	if e.Decision != nil {
		saved := *e.Decision
		c.decided = &saved
	}
	if c.setup.Save == nil {
		return nil
	}
	return notSaved("the record", c.setup.Save(e))
}

// ask has a person do something.
func (c *session) ask(ctx context.Context, p Prompt) error {
	if c.setup.Ask == nil {
		return nil
	}
	c.asked = true
	return c.setup.Ask(ctx, p)
}

func (c *session) seconds(frames int64) float64 {
	return float64(frames) / float64(c.setup.Sound.Rate())
}

// tapeSeconds is the sound consumed since the first block that counts.
func (c *session) tapeSeconds() float64 {
	if !c.started {
		return 0
	}
	return c.seconds(c.next - c.first)
}
