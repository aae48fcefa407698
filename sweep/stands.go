package sweep

import (
	"math"

	"gonum.org/v1/gonum/stat"
)

// trip is the jig's way since as found, degrees, by the places at which it turned round,
// the first and the last among them.
type trip []float64

// to is the trip with a further place.
func (t trip) to(deg float64) trip {
	n := len(t)
	if n >= 2 && (t[n-1]-t[n-2])*(deg-t[n-1]) >= 0 {
		t[n-1] = deg
		return t
	}
	return append(t, deg)
}

// screw is where the screw stands after the trip, by so much backlash, of which the first
// lies ahead towards the home side as the blade is seated, degrees from as found.
func (t trip) screw(side, backlash, first float64) float64 {
	lo, hi := -first, backlash-first // screw against jig
	if side < 0 {
		lo, hi = first-backlash, first
	}
	screw := 0.0
	for _, jig := range t {
		screw = max(jig+lo, min(jig+hi, screw))
	}
	return screw
}

// known is a figure with its standard deviation; ok where it is known at all.
type known struct {
	of, sd float64
	ok     bool
}

// threePoints stand for a normal distribution: same mean, same variance.
func (k known) threePoints() []float64 {
	away := math.Sqrt(1.5) * k.sd
	return []float64{k.of - away, k.of, k.of + away}
}

// stands is where the screw stands after the trip, with its standard deviation: over the
// backlash and its first part as far as they are known.
func (t trip) stands(side float64, backlash, first known) (deg, sd float64) {
	if !backlash.ok {
		backlash = known{of: usualBacklashDeg, sd: usualBacklashSDDeg}
	}
	var all []float64
	for _, b := range backlash.threePoints() {
		b = max(0, min(b, slackAllowanceDeg))
		firsts := []float64{0, b / 4, b / 2, 3 * b / 4, b}
		if first.ok {
			firsts = first.threePoints()
		}
		for _, f := range firsts {
			f = math.Abs(f) // less than none is as far from none
			all = append(all, t.screw(side, max(b, f), f))
		}
	}
	deg, sd = stat.PopMeanStdDev(all, nil)
	return deg, math.Hypot(sd, standingSDDeg)
}
