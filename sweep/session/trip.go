package session

import (
	"math"

	"gonum.org/v1/gonum/stat"

	"headtrue/sweep/estimate"
)

// Trip is the jig's way since as found, in degrees: the places at which it reversed, with
// the first and the last place.
type Trip []float64

// To returns the trip with a further place.
func (t Trip) To(deg float64) Trip {
	n := len(t)
	if n >= 2 && (t[n-1]-t[n-2])*(deg-t[n-1]) >= 0 {
		t[n-1] = deg
		return t
	}
	return append(t, deg)
}

// screw returns the position of the screw after the trip, in degrees from as found. As the
// blade is seated, the part first of the backlash lies ahead towards the home side.
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

// Known is a value with its standard deviation; OK is false if it is unknown.
type Known struct {
	Of, SD float64
	OK     bool
}

// threePoints returns three values with the mean and variance of a normal distribution.
func (k Known) threePoints() []float64 {
	away := math.Sqrt(1.5) * k.SD
	return []float64{k.Of - away, k.Of, k.Of + away}
}

// Stands returns the position of the screw after the trip and its standard deviation. It
// averages over the backlash and its first part, as far as they are known.
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
			f = math.Abs(f) // a negative part is mirrored at zero
			all = append(all, t.screw(side, max(b, f), f))
		}
	}
	deg, sd = stat.PopMeanStdDev(all, nil)
	return deg, math.Hypot(sd, estimate.StandingSDDeg)
}
