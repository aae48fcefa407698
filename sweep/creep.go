package sweep

import (
	"fmt"
	"math"
)

// A head on a spring and a lever can go the last share of each turn slowly, with a time
// constant (standard linear solid; how much and how slowly: common practice, no source).
// What is left to go while the place is listened to follows from the way of the screw:
// share times how far a lagging copy of the tilt is behind it.

// creepShares and creepSeconds are what a creep may be. creepWeight is how likely any is,
// before anything was heard.
var (
	creepShares  = []float64{0.01, 0.02, 0.03, 0.05, 0.08}
	creepSeconds = []float64{2, 4, 8, 20}
)

const creepWeight = 0.05

// whereabouts is where the jig stood at a second of tape.
type whereabouts struct{ seconds, deg float64 }

// behind is how far a copy of the screw's place that lags by a time constant is behind it
// at a second of tape, degrees; all that went before the first place stood there.
func behind(path []whereabouts, constant, at float64) float64 {
	if len(path) == 0 {
		return 0
	}
	const step = 0.05 // s
	slow, last := path[0].deg, path[0]
	for i := 0; i <= len(path); i++ {
		next := whereabouts{at, last.deg}
		if i < len(path) && path[i].seconds < at {
			next = path[i]
		}
		n := math.Ceil((next.seconds - last.seconds) / step)
		for k := 0.0; k < n; k++ {
			deg := last.deg + (k+0.5)/n*(next.deg-last.deg)
			slow += (1 - math.Exp(-(next.seconds-last.seconds)/n/constant)) * (deg - slow)
		}
		if last = next; next.seconds >= at {
			break
		}
	}
	return slow - last.deg
}

// creeping is one creep that may be, with its likelihood: how far it holds the head from
// where it comes to rest, arcmin, when the place is heard first and as left.
type creeping struct{ weight, first, left float64 }

// creeps are those that may be, from none on.
func (c *course) creeps(v *verdict, firstAt, leftAt float64) []creeping {
	all := []creeping{{weight: 1 - creepWeight}}
	weight := creepWeight / float64(len(creepShares)*len(creepSeconds))
	for _, constant := range creepSeconds {
		first, left := behind(c.path, constant, firstAt), behind(c.path, constant, leftAt)
		for _, share := range creepShares {
			all = append(all, creeping{weight, share * v.line.perDeg * first, share * v.line.perDeg * left})
		}
	}
	return all
}

// heardAsLeft adds the reading with the blade away to the stated figure; off is its
// distance from the optimum by the delay, in arcmin. The place as known before and this
// reading are independent, but for what the head creeps between them: for each creep that
// may be, their weighted mean is the likely error of the head, of which the rest of the
// creep will be gone. The figure contains that error and its uncertainty, each creep as
// likely as the reading makes it. If the two contradict each other, the later one counts:
// the blade or the release of the motor has moved the head.
func (v *verdict) heardAsLeft(off, sd float64, creeps []creeping) {
	place := math.Sqrt(math.Max(0, v.measuredSD*v.measuredSD-v.xSD*v.xSD))
	if math.Abs(off) > contradiction*math.Hypot(place, sd) {
		place = math.Inf(1)
	}
	weight, left := 1.0, sd
	if !math.IsInf(place, 1) {
		weight = place * place / (place*place + sd*sd)
		left = place * sd / math.Hypot(place, sd)
	}
	var sum, squares, some, rest float64
	for _, c := range creeps {
		gone := c.left - c.first
		w := c.weight
		if !math.IsInf(place, 1) {
			w *= math.Exp(-square((off-gone)/math.Hypot(place, sd)) / 2)
		}
		sum += w
		squares += w * (square(left) + square(weight*off+(1-weight)*gone-c.left))
		if c.first != 0 {
			some += w
			rest += w * math.Abs(c.left)
		}
	}
	if some > clearKind*sum {
		v.creepsArcmin = rest / some
	}
	now := math.Hypot(v.xSD, math.Sqrt(squares/sum))
	v.Optimum.SDArcmin = math.Sqrt(math.Max(0, v.Optimum.SDArcmin*v.Optimum.SDArcmin-v.measuredSD*v.measuredSD) + now*now)
	v.measuredSD = now
}

// sayCreep says that the head creeps, if that is clear.
func (v *verdict) sayCreep() string {
	if v.creepsArcmin == 0 {
		return ""
	}
	return fmt.Sprintf("; the head creeps on after each turn, by about %.1f' more", v.creepsArcmin)
}
