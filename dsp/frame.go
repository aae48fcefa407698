package dsp

import "math"

// frameLength returns the length of a frame at the rate: 1024 near 48 kHz, and the power
// of two of about the same duration at other rates.
func frameLength(rate int) int {
	n := 1024
	for rate > n*66 {
		n *= 2
	}
	for rate < n*33 && n > 256 {
		n /= 2
	}
	return n
}

// spectra transforms one frame of two channels into two spectra.
type spectra struct {
	window      []float64
	fft         *fft
	packed      []complex128
	left, right []complex128 // bins 0 to n/2
	powers      [2][]float64 // of left and right
}

func newSpectra(n int) *spectra {
	bins := n/2 + 1
	s := &spectra{
		window: make([]float64, n), fft: newFFT(n), packed: make([]complex128, n),
		left: make([]complex128, bins), right: make([]complex128, bins),
		powers: [2][]float64{make([]float64, bins), make([]float64, bins)},
	}
	// Periodic Hann. The scale makes |X|² summed over the bins of one side twice the mean
	// square: a full-scale sine sums to 1.
	var sum float64
	for i := range s.window {
		s.window[i] = 0.5 - 0.5*math.Cos(2*math.Pi*float64(i)/float64(n))
		sum += s.window[i] * s.window[i]
	}
	scale := 2 / math.Sqrt(float64(n)*sum)
	for i := range s.window {
		s.window[i] *= scale
	}
	return s
}

// transform computes both channels by one complex transform: left as the real part, right
// as the imaginary part, separated by symmetry.
func (s *spectra) transform(left, right []float64) {
	s.fft.forward(s.packed, s.window, left, right)
	x, y := s.left, s.right[:len(s.left)]
	p, q := s.powers[0][:len(x)], s.powers[1][:len(x)]
	for k := range x {
		a := s.packed[k]
		b := s.packed[(len(s.packed)-k)&(len(s.packed)-1)] // of the bin -k
		x[k] = complex(0.5*(real(a)+real(b)), 0.5*(imag(a)-imag(b)))
		y[k] = complex(0.5*(imag(a)+imag(b)), 0.5*(real(b)-real(a)))
		p[k], q[k] = power(x[k]), power(y[k])
	}
}

// dead clears a channel without any sound: after the packed transform it holds rounding
// errors of the other, which would appear coherent.
func (s *spectra) dead(c int) {
	clear([2][]complex128{s.left, s.right}[c])
	clear(s.powers[c])
}

func power(z complex128) float64 { return real(z)*real(z) + imag(z)*imag(z) }
