package estimate

import (
	"fmt"
	"math"
	"slices"
)

// A head on a spring and a lever can make the last share of each turn slowly, with a time
// constant (standard linear solid; size and time: common practice, no source). The path
// of the screw determines the motion that remains while the place is listened to: share
// times the distance from the tilt to its lagging copy.

// creepShares and creepSeconds are the candidate creeps. creepWeight is the prior
// probability that a head creeps at all.
var (
	creepShares  = []float64{0.01, 0.02, 0.03, 0.05}
	creepSeconds = []float64{2, 4, 8, 20}
)

const creepWeight = 0.07

// Whereabouts is the jig's place at a second of tape.
type Whereabouts struct{ Seconds, Deg float64 }

// behind returns how far a copy of the screw's place that lags by a time constant is
// behind it at a second of tape, degrees. Before the first place, the screw stood there.
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
		if last = next; last.Seconds == at {
			break // what follows is not yet driven
		}
	}
	return slow - last.Deg
}

// Creeping is one candidate creep with its prior probability. first and left are its
// distance from rest, arcmin, when the place is first heard and as left.
type Creeping struct{ Weight, first, left float64 }

// Creeps returns the candidate creeps; the first is none.
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

// HeardAsLeft updates the stated uncertainty with the reading after the blade is away.
// off is its distance from the optimum by the delay, sd its standard deviation, arcmin.
// The earlier estimate of the place and this reading are independent, except for the
// creep between them. For each candidate creep, the head's final error is their weighted
// mean minus the remaining creep. The stated uncertainty contains that error and its
// variance over all creeps, weighted by their posterior, if the reading favours creep
// enough (heardToCreep). If the two contradict each other and no creep explains it, only
// the later one counts: the blade or the release of the motor has moved the head.
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

// heardCreep sums over the candidates that creep, or over the others: the probability before
// and after a reading, the squared error at rest, and the remaining creep.
type heardCreep struct{ before, after, squares, rest float64 }

// heardToCreep is the least likelihood ratio at which creep counts: with a lower one,
// every head would be stated as less certain because of the few that creep.
const heardToCreep = 2

// explained reports whether a candidate creep makes the two readings agree.
func explained(creeps []Creeping, off, sd float64) bool {
	for _, c := range creeps {
		if math.Abs(off-(c.left-c.first)) < Contradiction*sd {
			return true
		}
	}
	return false
}

// SayCreep returns a phrase for a clear creep, else an empty string.
func (v *Verdict) SayCreep() string {
	if v.creepsArcmin == 0 {
		return ""
	}
	return fmt.Sprintf("; after each turn the head creeps on, this time by about %.1f' more", v.creepsArcmin)
}
