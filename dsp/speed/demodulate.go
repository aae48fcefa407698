package speed

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/dsp/window"
	"gonum.org/v1/gonum/floats"
)

const (
	pointsPerSecond = 2000 // about: the rate after decimation
	passHz          = 210  // deviations up to 200 Hz pass, and the tone may
	passShare       = 0.01 // be off by this share of its frequency
	transitionHz    = 200
	// blackmanWidth is the width of the transition of a low-pass with a Blackman window,
	// times its length, in units of the rate: 5.5, with 74 dB beyond (Oppenheim and
	// Schafer, from memory).
	blackmanWidth = 5.5
)

// decimation returns the number of frames per point.
func decimation(rateHz int) int { return max(1, int(math.Round(float64(rateHz)/pointsPerSecond))) }

// lowPass returns the taps of a low-pass whose response is half at cut, with a transition
// of the given width; both are shares of the rate. Their sum is 1.
func lowPass(cut, width float64) []float64 {
	half := int(math.Ceil(blackmanWidth / width / 2))
	taps := window.Blackman(ones(2*half + 1))
	for i := range taps {
		if x := 2 * math.Pi * cut * float64(i-half); x != 0 {
			taps[i] *= math.Sin(x) / x
		}
	}
	floats.Scale(1/floats.Sum(taps), taps)
	return taps
}

// point is the tone at one instant, left and right: its frequency relative to the carrier,
// less 1, and its power re a full-scale sine.
type point struct{ deviation, power [2]float64 }

// demodulator turns sound into points. It shifts the carrier to 0 Hz, band-limits and
// decimates in one step: its taps are those of a low-pass turned by the carrier. The
// deviation is the advance of the phase from point to point.
type demodulator struct {
	step         int       // frames per point
	cosine, sine []float64 // taps
	rotation     complex128
	radians      float64      // per unit of deviation
	waiting      [2][]float64 // frames that the next points need
	last         [2]complex128
	begun        bool
}

func newDemodulator(rateHz int, carrierHz float64) *demodulator {
	rate := float64(rateHz)
	taps := lowPass((passHz+passShare*carrierHz+transitionHz/2)/rate, transitionHz/rate)
	d := &demodulator{step: decimation(rateHz), cosine: make([]float64, len(taps)), sine: make([]float64, len(taps))}
	turns := carrierHz / rate
	for i, tap := range taps {
		s, c := math.Sincos(2 * math.Pi * turns * float64(i))
		d.cosine[i], d.sine[i] = tap*c, -tap*s
	}
	advance := 2 * math.Pi * turns * float64(d.step)
	d.rotation, d.radians = cmplx.Rect(1, -advance), advance
	return d
}

// add passes each point to hear, until hear returns false.
func (d *demodulator) add(left, right []float64, hear func(point) bool) {
	d.waiting[0] = append(d.waiting[0], left...)
	d.waiting[1] = append(d.waiting[1], right...)
	at, taps := 0, len(d.cosine)
	for ; at+taps <= len(d.waiting[0]); at += d.step {
		var p point
		for c, x := range d.waiting {
			x = x[at : at+taps]
			z := complex(2*floats.Dot(d.cosine, x), 2*floats.Dot(d.sine, x))
			p.power[c] = real(z)*real(z) + imag(z)*imag(z)
			p.deviation[c] = cmplx.Phase(z*cmplx.Conj(d.last[c])*d.rotation) / d.radians
			d.last[c] = z
		}
		if d.begun && !hear(p) {
			return
		}
		d.begun = true
	}
	for c, x := range d.waiting {
		d.waiting[c] = x[:copy(x, x[at:])]
	}
}
