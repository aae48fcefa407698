package byhand

import (
	"math"

	"headtrue/sweep/estimate"
	"headtrue/sweep/stream"
)

// gearing is the tilt per turn of the screw, arcmin, as learned from requests of stated size and
// from what the head did after each. The head stands before and after such a turn.
type gearing struct {
	perTurn, sd float64 // expected before the run, and relative standard deviation
	sum, weight float64 // of the tilts per turn heard, by their variances
}

func newGearing(p estimate.Plan) gearing {
	g := gearing{perTurn: math.Abs(p.GearingArcminPerTurn), sd: usualSD}
	if p.GearingSignKnown {
		g.sd = unitSD
	}
	return g
}

// Limits of a real mount's gearing, as those of estimate.Line.
const leastPerTurn, mostPerTurn = 40, 400

const (
	// Relative standard deviation of the gearing before a run: of any deck, and of a unit that
	// has been worked before.
	usualSD, unitSD = 0.3, 0.12
	// A hand that is asked for a turn misses it by a share of it and by some degrees (as
	// hand.Usual has it, from memory); habitSD is the share that is the same in all its turns.
	requestShare, requestDeg, habitSD = 0.1, 2.0, 0.05
	// After a turn in the other direction a screw has some backlash. From memory.
	backlashDeg = 3.0
	// pressArcmin is by how much the blade's pressure tilts the head when it is seated, and
	// standArcmin the uncertainty of a movement between two stands. From memory.
	pressArcmin, standArcmin = 3.0, 0.8
	// leastLearnDeg is the least request from which the gearing is learned.
	leastLearnDeg = 20.0
)

// stated is a request of stated size that was made.
type stated struct {
	turns    float64
	way      stream.Way
	side     float64 // towards which the head should tilt
	reversed bool    // the turn before went the other way, or is unknown
	seated   bool    // the blade was seated for it
}

// heard notes by how much the head has moved after a request, arcmin.
func (g *gearing) heard(s stated, arcmin float64) {
	deg := 360 * s.turns
	if deg < leastLearnDeg || arcmin < clearArcmin {
		return
	}
	perTurn := arcmin / s.turns
	if perTurn < leastPerTurn || perTurn > mostPerTurn {
		return // not this turn, or not the whole of it
	}
	share := math.Hypot(math.Hypot(requestShare, requestDeg/deg), standArcmin/arcmin)
	if s.reversed {
		share = math.Hypot(share, backlashDeg/deg)
	}
	if s.seated {
		share = math.Hypot(share, pressArcmin/arcmin)
	}
	// The variance is that of the expected tilt: that of the tilt heard would favour small ones.
	sd := share * g.now()
	g.sum += perTurn / (sd * sd)
	g.weight += 1 / (sd * sd)
}

// now returns the tilt per turn by all that is known.
func (g *gearing) now() float64 {
	before := 1 / math.Pow(g.sd*g.perTurn, 2)
	return (g.perTurn*before + g.sum) / (before + g.weight)
}

// learned returns the tilt of a clockwise turn as this run alone has heard it, arcmin per turn,
// with its standard deviation; NaN if it has not.
func (h *Hand) learned() (perTurn, sd float64) {
	g := h.turns
	if g.weight == 0 || !h.sense.known() {
		return math.NaN(), math.NaN()
	}
	perTurn = g.sum / g.weight
	return math.Copysign(perTurn, h.sense.votes), math.Hypot(math.Sqrt(1/g.weight), habitSD*perTurn)
}
