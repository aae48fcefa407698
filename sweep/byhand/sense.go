package byhand

import (
	"math"

	"headtrue/sweep/estimate"
	"headtrue/sweep/stream"
)

// sense is the direction in which a clockwise turn tilts the head, +1 or -1, as a vote of the
// turns heard. A person may mistake one request: what most turns show counts.
type sense struct{ votes float64 }

// knownVotes is the weight of the direction that a unit or a profile states.
const knownVotes = 2.5

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

// gearing is the tilt per turn of the screw, arcmin, as learned from requests and what was
// heard after them.
type gearing struct {
	perTurn float64
	weight  float64
}

// Limits of a real mount's gearing, as those of estimate.Line.
const leastPerTurn, mostPerTurn = 40, 400

// heard notes that a request of so many turns has tilted the head by arcmin. One request is
// good to requestError; the prior weighs as two.
func (g *gearing) heard(turns, arcmin float64) {
	if turns < leastLearnTurns {
		return
	}
	now := max(leastPerTurn, min(mostPerTurn, math.Abs(arcmin)/turns))
	weight := 2 + g.weight
	g.perTurn = math.Exp((math.Log(g.perTurn)*weight + math.Log(now)) / (weight + 1))
	g.weight++
}

// leastLearnTurns is the least request from which the gearing is learned.
const leastLearnTurns = 20.0 / 360

// learned returns the tilt of a clockwise turn as the requests have shown it, arcmin per turn,
// with its standard deviation; NaN if they have not.
func (h *Hand) learned() (perTurn, sd float64) {
	if h.turns.weight == 0 || !h.sense.known() {
		return math.NaN(), math.NaN()
	}
	return math.Copysign(h.turns.perTurn, h.sense.votes), requestError * h.turns.perTurn / math.Sqrt(h.turns.weight)
}

// requestError is the relative standard deviation of the gearing by one request.
const requestError = 0.2
