package tape

import "math"

// Lobe describes how a channel's treble against the tilt departs from that of a straight
// gap of even sensitivity at a steady contact:
//
// - contact: the tape lies closer the further the screw turns in one direction, so the
// level changes by SlopeDB per arcmin. The top moves; the nulls do not. - bow: the gap is
// bent, and more sensitive towards one edge. The far flanks move more than the top.
//
// A place across the gap is s, from -1 to 1. Its sound is late by the phase Bow s^2, in
// radians, and has the weight 1 - Taper s.
type Lobe struct{ SlopeDB, Bow, Taper float64 }

// gaussPlaces and gaussWeights are the nodes and weights of Gauss-Legendre quadrature of
// order 8 on [-1, 1], half of them (Abramowitz & Stegun 1964, table 25.4, from memory).
var (
	gaussPlaces  = [4]float64{0.183434642495650, 0.525532409916329, 0.796666477413627, 0.960289856497536}
	gaussWeights = [4]float64{0.362683783378362, 0.313706645877887, 0.222381034453374, 0.101228536290376}
)

// LobePower returns the treble power at a tilt for a head with lobe l; for a plain lobe
// it is Power. It is 1 if a straight gap lies along the pattern. A programme's curve has
// no lobe: its shape is a mean over the treble.
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
