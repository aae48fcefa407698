package tape

import "math"

// Lobe describes how a channel's treble against the tilt departs from that of a straight
// gap of even sensitivity at a steady contact:
//
//   - contact: the tape lies closer the further the screw turns in one direction, so the
//     level changes by SlopeDB per arcmin. The top moves; the nulls do not.
//   - bow: the gap is bent, and more sensitive towards one edge. The far flanks move more
//     than the top.
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

// Shape is the treble of a material against the tilt. A tone has side lobes; a programme has
// none, since its shape is a mean over the treble.
type Shape struct {
	m              Material
	l              Lobe
	sinBow, cosBow [len(gaussPlaces)]float64
}

// Shape returns the treble of the material on a head with lobe l.
func (m Material) Shape(l Lobe) Shape {
	s := Shape{m: m}
	if !m.IsTone {
		return s
	}
	s.l = l
	for i, place := range gaussPlaces {
		s.sinBow[i], s.cosBow[i] = math.Sincos(l.Bow * place * place)
	}
	return s
}

// Power returns the treble power at a tilt; for a plain lobe it is that of the material. It
// is 1 if a straight gap lies along the pattern.
func (s *Shape) Power(tiltArcmin float64) float64 {
	contact := 1.0
	if s.l.SlopeDB != 0 {
		contact = PowerOf(s.l.SlopeDB * tiltArcmin)
	}
	if s.l.Bow == 0 && s.l.Taper == 0 {
		return contact * s.m.Power(tiltArcmin)
	}
	across := s.m.Format.across(tiltArcmin, s.m.Hz)
	var re, im float64
	for i, place := range gaussPlaces { // the places s and -s together
		w := gaussWeights[i]
		sin, cos := math.Sincos(across * place)
		sin *= s.l.Taper * place
		re += w * (s.cosBow[i]*cos + s.sinBow[i]*sin)
		im += w * (s.sinBow[i]*cos - s.cosBow[i]*sin)
	}
	return contact * (re*re + im*im)
}
