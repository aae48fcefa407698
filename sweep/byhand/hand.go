package byhand

import (
	"math"

	"headtrue/sweep/record"
	"headtrue/sweep/session"
	"headtrue/sweep/stream"
)

// Phases of a run by hand.
const (
	phaseEdges = "bracket"
	phaseMore  = "refine"
	phaseLead  = "set"
	phaseLeft  = "as left"
)

// Hand is a run's screw that a person turns.
type Hand struct {
	*session.Session
	// Found is the reading as found, with the hands off.
	Found *record.Step
	steps []record.Step
	track track
	sense sense
	turns gearing
	asked request
	// lift is what the head does when the blade is lifted.
	lift lift
	// Left is the state after the work.
	Left record.Left
}

// New begins the guide of a run.
func New(s *session.Session) *Hand {
	return &Hand{Session: s, track: track{plan: s.Plan.Plan}, turns: gearing{perTurn: math.Abs(s.Plan.GearingArcminPerTurn)},
		sense: newSense(s.Plan.Plan)}
}

// request is the present request to the person.
type request struct {
	stream.Guidance
	phase string
	at    float64 // tape seconds
}

// ask makes a new request.
func (h *Hand) ask(phase string, g stream.Guidance) {
	g.New = true
	h.asked = request{g, phase, h.TapeSeconds()}
	h.Guide(phase, g, Words(g))
	h.asked.New = false
}

// again makes the present request once more.
func (h *Hand) again() { h.ask(h.asked.phase, h.asked.Guidance) }

// show repeats the present request with the present distance from the target.
func (h *Hand) show(off *float64) {
	g := h.asked.Guidance
	g.OffArcmin = off
	h.Guide(h.asked.phase, g, "")
}

// sinceAsked returns the tape seconds since the present request.
func (h *Hand) sinceAsked() float64 { return h.TapeSeconds() - h.asked.at }
