package estimate

import (
	"fmt"
	"math"
	"slices"
)

// A head on a spring and a lever can go the last share of each turn slowly, with a time
// constant (standard linear solid; how much and how slowly: common practice, no source).
// What is left to go while the place is listened to follows from the way of the screw:
// share times how far a lagging copy of the tilt is behind it.

// creepShares and creepSeconds are what a creep may be. creepWeight is how likely any is,
// before anything was heard.
var (
	creepShares  = []float64{0.01, 0.02, 0.03, 0.05}
	creepSeconds = []float64{2, 4, 8, 20}
)

const creepWeight = 0.07

// Whereabouts is where the jig stood at a second of tape.
type Whereabouts struct{ Seconds, Deg float64 }

// behind is how far a copy of the screw's place that lags by a time constant is behind it
// at a second of tape, degrees; all that went before the first place stood there.
func behind(path []Whereabouts, constant, at float64) float64 {
	if len(path) == 0 {
		return 0
	}
	const step = 0.05 // s
	slow, last := path[0].Deg, path[0]
	for _, next := range append(slices.Clone(path), Whereabouts{math.Inf(1), path[len(path)-1].Deg}) {
		if next.Seconds > at {
			if share := (at - last.Seconds) / (next.Seconds - last.Seconds); share > 0 {
				next.Deg = last.Deg + share*(next.Deg-last.Deg)
			}
			next.Seconds = at
		}
		n := math.Ceil((next.Seconds - last.Seconds) / step)
		for k := 0.0; k < n; k++ {
			deg := last.Deg + (k+0.5)/n*(next.Deg-last.Deg)
			slow += (1 - math.Exp(-(next.Seconds-last.Seconds)/n/constant)) * (deg - slow)
		}
		last = next
	}
	return slow - last.Deg
}

// Creeping is one creep that may be, with its likelihood: how far it holds the head from
// where it comes to rest, arcmin, when the place is heard first and as left.
type Creeping struct{ Weight, first, left float64 }

// Creeps are those that may be, from none on.
func (v *Verdict) Creeps(path []Whereabouts, firstAt, leftAt float64) []Creeping {
	all := []Creeping{{Weight: 1 - creepWeight}}
	weight := creepWeight / float64(len(creepShares)*len(creepSeconds))
	for _, constant := range creepSeconds {
		first, left := behind(path, constant, firstAt), behind(path, constant, leftAt)
		for _, share := range creepShares {
			all = append(all, Creeping{weight, share * v.Line.PerDeg * first, share * v.Line.PerDeg * left})
		}
	}
	return all
}

// HeardAsLeft adds the reading with the blade away to the stated figure; off is its
// distance from the optimum by the delay, in arcmin. The place as known before and this
// reading are independent, but for what the head creeps between them: for each creep that
// may be, their weighted mean is the likely error of the head, of which the rest of the
// creep will be gone. The figure contains that error and its uncertainty, each creep as
// likely as the reading makes it, once it speaks for one at all. If the two contradict each
// other, and no creep explains it, the later one counts: the blade or the release of the
// motor has moved the head.
func (v *Verdict) HeardAsLeft(off, sd float64, creeps []Creeping) {
	place := math.Sqrt(math.Max(0, v.MeasuredSDArcmin*v.MeasuredSDArcmin-v.TiltSDArcmin*v.TiltSDArcmin))
	if both := math.Hypot(place, sd); math.Abs(off) > Contradiction*both && !explained(creeps, off, both) {
		place = math.Inf(1)
	}
	weight, left := 1.0, sd
	if !math.IsInf(place, 1) {
		weight = place * place / (place*place + sd*sd)
		left = place * sd / math.Hypot(place, sd)
	}
	likely := func(c Creeping) float64 {
		if math.IsInf(place, 1) {
			return 1
		}
		return math.Exp(-square((off-c.left+c.first)/math.Hypot(place, sd)) / 2)
	}
	var stays, moves heardCreep
	for _, c := range creeps {
		h := &moves
		if c.first == 0 {
			h = &stays
		}
		w := c.Weight * likely(c)
		h.before, h.after, h.rest = h.before+c.Weight, h.after+w, h.rest+w*math.Abs(c.left)
		h.squares += w * (square(left) + square(weight*off+(1-weight)*(c.left-c.first)-c.left))
	}
	both := stays
	if moves.after*stays.before > heardToCreep*stays.after*moves.before {
		both.after, both.squares = stays.after+moves.after, stays.squares+moves.squares
		if moves.after > clearKind*both.after {
			v.creepsArcmin = moves.rest / moves.after
		}
	}
	now := math.Hypot(v.TiltSDArcmin, math.Sqrt(both.squares/both.after))
	v.Optimum.SDArcmin = math.Sqrt(math.Max(0, v.Optimum.SDArcmin*v.Optimum.SDArcmin-v.MeasuredSDArcmin*v.MeasuredSDArcmin) + now*now)
	v.MeasuredSDArcmin = now
}

// heardCreep is how likely heads that creep, or that do not, are before and after a
// reading, and what they leave of the error at rest.
type heardCreep struct{ before, after, squares, rest float64 }

// heardToCreep is by how many times likelier a reading must make a creep than it was to
// count: without that each head would have to be called less certain by what few do.
const heardToCreep = 2

// explained reports whether a creep that may be makes the two readings agree.
func explained(creeps []Creeping, off, sd float64) bool {
	for _, c := range creeps {
		if math.Abs(off-(c.left-c.first)) < Contradiction*sd {
			return true
		}
	}
	return false
}

// SayCreep says that the head creeps, if that is clear.
func (v *Verdict) SayCreep() string {
	if v.creepsArcmin == 0 {
		return ""
	}
	return fmt.Sprintf("; the head creeps on after each turn, by about %.1f' more", v.creepsArcmin)
}
