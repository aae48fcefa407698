package bench

import (
	"math"
	"math/rand/v2"
)

// gearing returns arcmin of tilt per turn of the screw as found, with its sign, before
// the random part of the seed: atan(pitch/lever).
func (s Screw) gearing() float64 {
	g := s.ArcminPerTurn
	if g == 0 {
		g = math.Atan(s.PitchMM/s.LeverMM) / arcmin
	}
	if s.Reversed {
		g = -g
	}
	return g
}

// bendDeg is the angle from as found, either way, at which the linear change of the
// gearing ends: one turn. Our own bound, no source.
const bendDeg = 360

// bent returns the angle of a screw of constant gearing with the same tilt. The gearing
// at x degrees exceeds that as found by bend x/90; the tilt is its integral.
func (s Screw) bent(deg float64) float64 {
	bend := s.GearingNonlinearPercent / 100
	within := max(-bendDeg, min(bendDeg, deg))
	return deg + bend/90*(within*within/2+(deg-within)*within)
}

// unbent is the inverse of bent, by Newton's method.
func (s Screw) unbent(even float64) float64 {
	deg := even
	for range 50 {
		slope := 1 + s.GearingNonlinearPercent/100*max(-bendDeg, min(bendDeg, deg))/90
		deg += (even - s.bent(deg)) / slope
	}
	return deg
}

// creep is the slow part of the head's movement. Of each turn of the screw, and of each
// press of the blade, this share follows with a time constant and the rest at once, like
// a spring in series with a spring and damper in parallel (standard linear solid).
type creep struct {
	share float64 // of the movement
	pace  float64 // share of the rest that is made per step
	slow  float64 // position of the slow part, arcmin
}

func newCreep(d Deck, at float64) creep {
	return creep{share: d.CreepPercent / 100, pace: 1 - math.Exp(-1/(controlRate*max(d.CreepSeconds, 1e-3))), slow: at}
}

// follow lets one control period pass and returns the new target of the head.
func (c *creep) follow(rest float64) float64 {
	if c.share == 0 {
		return rest
	}
	c.slow += c.pace * (rest - c.slow)
	return rest + c.share*(c.slow-rest)
}

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
