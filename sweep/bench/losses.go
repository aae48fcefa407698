package bench

import (
	"math"
	"math/cmplx"
)

// Dimensions of the cassette: tape speed in mm/s, track width and the distance
// of the two tracks' centres in mm (3.81 mm tape; tracks 0.6 mm, 0.3 mm apart).
const (
	tapeSpeed     = 47.6
	trackWidth    = 0.6
	trackDistance = 0.9
)

// sinc is sin(pi x)/(pi x).
func sinc(x float64) float64 {
	if x == 0 {
		return 1
	}
	return math.Sin(math.Pi*x) / (math.Pi * x)
}

// fixedLosses returns the response of head and tape that does not depend on tilt:
//
//	gap        sinc(1.11 g/lambda)              (Eargle 1994; null at lambda = 1.11 g)
//	spacing    exp(-2 pi d/lambda)              (54.6 dB d/lambda)
//	thickness  (1 - exp(-kd))/(kd), k = 2 pi/lambda
//	equaliser  (1 + jw replay)/(1 + jw recorded), the treble time constants of
//	           IEC 60094-1; the 3180 us of the bass are alike and cancel
func fixedLosses(t Tape, d Deck) func(hz float64) complex128 {
	return func(hz float64) complex128 {
		lambdaUM := tapeSpeed * 1000 / hz
		g := sinc(1.11*d.GapUM/lambdaUM) * math.Exp(-2*math.Pi*t.SpacingUM/lambdaUM)
		if kd := 2 * math.Pi * t.ThicknessUM / lambdaUM; kd > 0 {
			g *= -math.Expm1(-kd) / kd
		}
		w := 2 * math.Pi * hz * 1e-6
		return complex(g, 0) * complex(1, w*d.ReplayEqUS) / complex(1, w*t.RecordedEqUS)
	}
}

// equaliserGain returns the gain at 1 kHz of the wrong equaliser. The deck is assumed to
// be levelled there, so a wrong time constant changes the treble and not the volume.
func equaliserGain(t Tape, d Deck) float64 {
	w := 2 * math.Pi * 1000 * 1e-6
	return cmplx.Abs(complex(1, w*d.ReplayEqUS) / complex(1, w*t.RecordedEqUS))
}

// worn returns the response of a channel with its worn core.
func (d Deck) worn(channel int, loss func(hz float64) complex128) func(hz float64) complex128 {
	lost := [2]float64{d.WornLeftDB, d.WornRightDB}[channel]
	if lost == 0 {
		return loss
	}
	return func(hz float64) complex128 { return loss(hz) * complex(inProportion(-lost, hz), 0) }
}
