package dsp

import (
	"math"
	"math/bits"

	"gonum.org/v1/gonum/dsp/fourier"
)

// frameLength is the length of a frame at the rate: 1024 near 48 kHz, and the
// power of two that lasts about as long at other rates.
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

// spectra turns one frame of two channels into two spectra.
type spectra struct {
	window      []float64
	packed      []complex128
	left, right []complex128 // bins 0 to n/2
}

func newSpectra(n int) *spectra {
	s := &spectra{
		window: make([]float64, n), packed: make([]complex128, n),
		left: make([]complex128, n/2+1), right: make([]complex128, n/2+1),
	}
	// Periodic Hann. The scale makes |X|² summed over the bins of one side
	// twice the mean square: a full-scale sine adds up to 1.
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

// transform takes both channels through one complex transform: left as the
// real part, right as the imaginary one, parted again by symmetry.
func (s *spectra) transform(left, right []float64) {
	n := len(s.window)
	for i, w := range s.window {
		s.packed[i] = complex(w*left[i], w*right[i])
	}
	z := forward(s.packed)
	for k := range s.left {
		a, b := z[k], z[(n-k)%n]
		s.left[k] = complex(0.5*(real(a)+real(b)), 0.5*(imag(a)-imag(b)))
		s.right[k] = complex(0.5*(imag(a)+imag(b)), 0.5*(real(b)-real(a)))
	}
}

func power(z complex128) float64 { return real(z)*real(z) + imag(z)*imag(z) }

// forward transforms in place; the length is a power of two. At a power of four
// it is nearly three times as fast as the general transform.
func forward(z []complex128) []complex128 {
	if bits.TrailingZeros(uint(len(z)))%2 == 0 {
		return fourier.CoefficientsRadix4(z)
	}
	return fourier.CoefficientsRadix2(z)
}
