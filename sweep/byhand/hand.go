package byhand

import (
	"context"
	"math"

	"headtrue/sweep/byhand/words"
	"headtrue/sweep/record"
	"headtrue/sweep/session"
	"headtrue/sweep/stream"
)

// Phases of a run by hand.
const (
	phaseFound = "as found"
	phaseEdges = "bracket"
	phaseMore  = "refine"
	phaseLead  = "set"
	phaseLeft  = "as left"
)

// Hand is a run's screw that a person turns.
type Hand struct {
	*session.Session
	// Before is the state before the first turn.
	Before record.Found
	found  *record.Step // its reading
	steps  []record.Step
	track  track
	sense  sense
	turns  gearing
	last   stream.Way // of the last turn; empty before
	asked  request
	atEnd  map[float64]bool // the sides at which the screw has its end
	// lift is what the head does when the blade is lifted.
	lift   lift
	now    cell // heard
	gap    oneGap
	isOne  bool // the treble changes while the delay stands still
	lifted bool // the blade is out of the slot
	// known is the optimum if a known delay alone leads to it; else nil.
	known *target
	// trebleDB is that of the last stand.
	trebleDB float64
	// Left is the state after the work.
	Left record.Left
}

// New begins the guide of a run.
func New(s *session.Session) *Hand {
	return &Hand{Session: s, track: track{plan: s.Plan.Plan}, turns: newGearing(s.Plan.Plan),
		sense: newSense(s.Plan.Plan), gap: newGap(s.Plan.ToneHz > 0), lifted: true, atEnd: map[float64]bool{}}
}

// request is the present request to the person.
type request struct {
	stream.Guidance
	phase string
	at    float64 // tape seconds
}

// AsFound hears the head before the first turn, with the hands off, and saves it.
func (h *Hand) AsFound(ctx context.Context) error {
	h.ask(phaseFound, stream.Guidance{Act: stream.HandsOff})
	if err := h.OpenClip("as-found"); err != nil {
		return err
	}
	r, err := h.Listen(ctx, h.Plan.ProofSeconds)
	if err != nil {
		return err
	}
	name, err := h.CloseClip()
	if err != nil {
		return err
	}
	h.TapeHeard()
	if h.TrebleAlone {
		r = withoutDelay(r)
	}
	at := h.TapeSeconds() - r.Seconds/2
	if h.track.follow(&r, at) {
		h.found = &record.Step{AtSeconds: at, ScrewDeg: math.NaN(), Reading: r}
	}
	h.Before = record.Found{ByHand: true, BladeOff: &r, Clip: name}
	return h.Save(record.Entry{Kind: record.KindFound, Found: &h.Before})
}

// ask makes a new request.
func (h *Hand) ask(phase string, g stream.Guidance) {
	g.New = true
	if h.asked.Way != "" {
		h.last = h.asked.Way
	}
	h.asked = request{g, phase, h.TapeSeconds()}
	h.Guide(phase, g, words.Of(g))
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
