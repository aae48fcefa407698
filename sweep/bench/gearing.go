package bench

import "math"

// gearing is arcmin of tilt per turn of the screw as found, with its sign, before
// the seed's own part: atan(pitch/lever).
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

// bendDeg is the angle at which the gearing, which changes evenly from the screw as
// found on, stops to change: one turn either way. Our own bound, no source.
const bendDeg = 360

// bent is the angle that a screw of even gearing would need for the same tilt: the
// gearing at x degrees is by bend x/90 greater than as found, and the tilt goes with
// its integral.
func (s Screw) bent(deg float64) float64 {
	bend := s.GearingNonlinearPercent / 100
	within := max(-bendDeg, min(bendDeg, deg))
	return deg + bend/90*(within*within/2+(deg-within)*within)
}

// unbent is the angle whose bent is this, by Newton's method.
func (s Screw) unbent(even float64) float64 {
	deg := even
	for range 50 {
		slope := 1 + s.GearingNonlinearPercent/100*max(-bendDeg, min(bendDeg, deg))/90
		deg += (even - s.bent(deg)) / slope
	}
	return deg
}
