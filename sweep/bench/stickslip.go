package bench

import (
	"math"
	"math/rand/v2"
)

// stickSlip models a screw that sticks while it is turned. It stands until the twist of
// the drive, beyond the twist that keeps a screw turning, exceeds limitDeg. Then it jumps
// by a share of that twist, uniform from none to all. So it stops anywhere within
// limitDeg before the position of a smooth screw.
type stickSlip struct {
	limitDeg float64
	r        *rand.Rand
}

// slip returns the movement of the screw at a twist, both in degrees with their sign.
func (s stickSlip) slip(twistDeg float64) float64 {
	switch {
	case s.limitDeg == 0:
		return twistDeg
	case math.Abs(twistDeg) <= s.limitDeg:
		return 0
	}
	return twistDeg * s.r.Float64()
}
