package bench

import (
	"math"
	"math/rand/v2"
)

// stickSlip is a screw that sticks while it is being turned: it stands until the
// drive is twisted, beyond what it takes to keep a screw turning, by more than
// limitDeg, then jumps by a share of that twist, drawn evenly from none to all. So
// it comes to stand anywhere within limitDeg before where a smooth screw would.
type stickSlip struct {
	limitDeg float64
	r        *rand.Rand
}

// slip is how far the screw goes at a twist, both in degrees with their sign.
func (s stickSlip) slip(twistDeg float64) float64 {
	switch {
	case s.limitDeg == 0:
		return twistDeg
	case math.Abs(twistDeg) <= s.limitDeg:
		return 0
	}
	return twistDeg * s.r.Float64()
}
