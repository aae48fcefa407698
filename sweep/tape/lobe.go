package tape

import "math"

// Lobe is how a channel's treble goes with the tilt beside what a straight gap of even
// sensitivity at a steady contact makes of it:
//
//   - contact: the tape lies closer the further the screw turns one way, so that the
//     level goes on by SlopeDB per arcmin. The top moves; the nulls do not.
//   - bow: the gap is bent, and more sensitive towards one edge. The far flanks move more
//     than the top does.
//
// A place across the gap is s, from -1 to 1. Its part of the sound comes late by the phase
// Bow s^2, in radians, and counts by 1 - Taper s.
type Lobe struct{ SlopeDB, Bow, Taper float64 }

// gaussPlaces and gaussWeights are those of Gauss-Legendre quadrature of order 8 on
// [-1, 1], half of them (Abramowitz & Stegun 1964, table 25.4, from memory).
var (
	gaussPlaces  = [4]float64{0.183434642495650, 0.525532409916329, 0.796666477413627, 0.960289856497536}
	gaussWeights = [4]float64{0.362683783378362, 0.313706645877887, 0.222381034453374, 0.101228536290376}
)

// LobePower is the treble power that a tilt leaves on a head unlike the plain one; of a
// plain lobe it is Power. It is 1 where a straight gap lies along the pattern. A programme's
// curve has no lobe of its own: its shape is that of a mean over the treble.
func (m Material) LobePower(l Lobe, tiltArcmin float64) float64 {
	if !m.IsTone {
		return m.Power(tiltArcmin)
	}
	contact := 1.0
	if l.SlopeDB != 0 {
		contact = PowerOf(l.SlopeDB * tiltArcmin)
	}
	if l.Bow == 0 && l.Taper == 0 {
		return contact * m.Power(tiltArcmin)
	}
	across := m.Format.across(tiltArcmin, m.Hz)
	var re, im float64
	for i, s := range gaussPlaces { // the places s and -s together
		w := gaussWeights[i]
		sin, cos := math.Sincos(across * s)
		sinBow, cosBow := math.Sincos(l.Bow * s * s)
		sin *= l.Taper * s
		re += w * (cosBow*cos + sinBow*sin)
		im += w * (sinBow*cos - cosBow*sin)
	}
	return contact * (re*re + im*im)
}
