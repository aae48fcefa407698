package session

import (
	"math"

	"headtrue/sweep/estimate"

	"gonum.org/v1/gonum/stat"
)

// Trip is the jig's way since as found, degrees, by the places at which it turned round,
// the first and the last among them.
type Trip []float64

// To is the trip with a further place.
func (t Trip) To(deg float64) Trip {
	n := len(t)
	if n >= 2 && (t[n-1]-t[n-2])*(deg-t[n-1]) >= 0 {
		t[n-1] = deg
		return t
	}
	return append(t, deg)
}

// screw is where the screw stands after the trip, by so much backlash, of which the first
// lies ahead towards the home side as the blade is seated, degrees from as found.
func (t Trip) screw(side, backlash, first float64) float64 {
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

// Known is a figure with its standard deviation; ok where it is known at all.
type Known struct {
	Of, SD float64
	OK     bool
}

// threePoints stand for a normal distribution: same mean, same variance.
func (k Known) threePoints() []float64 {
	away := math.Sqrt(1.5) * k.SD
	return []float64{k.Of - away, k.Of, k.Of + away}
}

// Stands is where the screw stands after the trip, with its standard deviation: over the
// backlash and its first part as far as they are known.
func (t Trip) Stands(side float64, backlash, first Known) (deg, sd float64) {
	if !backlash.OK {
		backlash = Known{Of: estimate.UsualBacklashDeg, SD: estimate.UsualBacklashSDDeg}
	}
	var all []float64
	for _, b := range backlash.threePoints() {
		b = max(0, min(b, estimate.SlackAllowanceDeg))
		firsts := []float64{0, b / 4, b / 2, 3 * b / 4, b}
		if first.OK {
			firsts = first.threePoints()
		}
		for _, f := range firsts {
			f = math.Abs(f) // less than none is as far from none
			all = append(all, t.screw(side, max(b, f), f))
		}
	}
	deg, sd = stat.PopMeanStdDev(all, nil)
	return deg, math.Hypot(sd, estimate.StandingSDDeg)
}
