package byhand

import (
	"math"

	"headtrue/sweep/estimate"
	"headtrue/sweep/stream"
)

// sense is the direction in which a clockwise turn tilts the head, +1 or -1, as a vote of the
// turns heard. A person may mistake one request: what most turns show counts.
type sense struct{ votes float64 }

// knownVotes is the weight of the direction that a unit or a profile states: two turns that go
// the other way outvote it.
const knownVotes = 1.5

func newSense(p estimate.Plan) sense {
	if !p.GearingSignKnown {
		return sense{}
	}
	forward := 1.0
	if p.Forward == string(stream.CounterClockwise) {
		forward = -1
	}
	return sense{math.Copysign(knownVotes, p.GearingArcminPerTurn*forward)}
}

func (s sense) known() bool { return s.votes != 0 }

// heard notes that a request to turn way has tilted the head towards side, +1 or -1.
func (s *sense) heard(way stream.Way, side float64) {
	if way == stream.CounterClockwise {
		side = -side
	}
	s.votes = max(-3, min(3, s.votes+side))
	if s.votes == 0 { // one against one: the later one counts
		s.votes = side / 2
	}
}

// way returns the direction of the turn that tilts the head towards side.
func (s sense) way(side float64) stream.Way {
	if s.votes*side < 0 {
		return stream.CounterClockwise
	}
	return stream.Clockwise
}
