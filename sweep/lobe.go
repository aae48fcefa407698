package sweep

import "math"

// lobe is how a channel's treble goes with the tilt beside what a straight gap of even
// sensitivity at a steady contact makes of it:
//
//   - contact: the tape lies closer the further the screw turns one way, so that the
//     level goes on by slopeDB per arcmin. The top moves; the nulls do not.
//   - bow: the gap is bent, and more sensitive towards one edge. The far flanks move more
//     than the top does.
//
// A place across the gap is s, from -1 to 1. Its part of the sound comes late by the phase
// bow s^2, in radians, and counts by 1 - taper s.
type lobe struct{ slopeDB, bow, taper float64 }

// gaussPlaces and gaussWeights are those of Gauss-Legendre quadrature of order 8 on
// [-1, 1], half of them (Abramowitz & Stegun 1964, table 25.4, from memory).
var (
	gaussPlaces  = [4]float64{0.183434642495650, 0.525532409916329, 0.796666477413627, 0.960289856497536}
	gaussWeights = [4]float64{0.362683783378362, 0.313706645877887, 0.222381034453374, 0.101228536290376}
)

// power is the power that a tilt leaves of a frequency; of a plain lobe it is
// azimuthPower. It is 1 where a straight gap lies along the pattern.
func (l lobe) power(tiltArcmin, hz float64) float64 {
	contact := 1.0
	if l.slopeDB != 0 {
		contact = powerOf(l.slopeDB * tiltArcmin)
	}
	if l.bow == 0 && l.taper == 0 {
		return contact * azimuthPower(tiltArcmin, hz)
	}
	across := math.Pi * trackWidthMM * math.Tan(tiltArcmin*radPerArcmin) * hz / tapeSpeedMMPerS
	var re, im float64
	for i, s := range gaussPlaces { // the places s and -s together
		w := gaussWeights[i]
		sin, cos := math.Sincos(across * s)
		sinBow, cosBow := math.Sincos(l.bow * s * s)
		sin *= l.taper * s
		re += w * (cosBow*cos + sinBow*sin)
		im += w * (sinBow*cos - cosBow*sin)
	}
	return contact * (re*re + im*im)
}

// lobePower is the treble power left by a tilt on a head unlike the plain one. A
// programme's curve has no lobe of its own: its shape is that of a mean over the treble.
func (m material) lobePower(l lobe, tiltArcmin float64) float64 {
	if !m.tone {
		return m.power(tiltArcmin)
	}
	return l.power(tiltArcmin, m.hz)
}
