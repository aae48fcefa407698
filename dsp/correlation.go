package dsp

import (
	"math"
	"math/cmplx"
)

// correlation is the inverse transform of a weighted cross-spectrum: n real values; index
// i is the correlation at a delay of i steps. It uses a complex transform of half the
// length, even values in the real part and odd ones in the imaginary part.
type correlation struct {
	n, first int
	turn     []complex128 // 1 + i exp(2 pi i k/n) for the bins from first on
	fft      *fft
	re, im   []float64 // its input, conjugate, zero but for those bins
	ones     []float64 // its window
	pairs    []complex128
}

// newCorrelation is for cross-spectra of bins bins from the bin first on, all in the
// lower quarter of the n.
func newCorrelation(n, first, bins int) *correlation {
	half := n / 2
	c := &correlation{
		n: n, first: first, turn: make([]complex128, bins), fft: newFFT(half),
		re: make([]float64, half), im: make([]float64, half), ones: make([]float64, half), pairs: make([]complex128, half),
	}
	for i := range c.turn {
		c.turn[i] = 1 + 1i*cmplx.Rect(1, 2*math.Pi*float64(first+i)/float64(n))
	}
	for i := range c.ones {
		c.ones[i] = 1
	}
	return c
}

// of computes the correlation from the cross-spectrum and the weight of each bin.
func (c *correlation) of(cross []complex128, weight []float64) {
	for i, turn := range c.turn {
		k, x := c.first+i, cross[i]*complex(weight[i], 0)
		y, mirrored := x*turn, cmplx.Conj(x)*(2-cmplx.Conj(turn))
		c.re[k], c.im[k] = real(y), -imag(y)
		c.re[len(c.re)-k], c.im[len(c.im)-k] = real(mirrored), -imag(mirrored)
	}
	c.fft.forward(c.pairs, c.ones, c.re, c.im)
}

// at returns the value at index i, which may be negative.
func (c *correlation) at(i int) float64 {
	i = (i + c.n) % c.n
	if i%2 == 0 {
		return real(c.pairs[i/2])
	}
	return -imag(c.pairs[i/2])
}
