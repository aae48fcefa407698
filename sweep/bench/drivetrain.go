package bench

import "math"

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
