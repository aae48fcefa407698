package dsp

import (
	"math"
	"math/cmplx"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"
)

// noisy returns a window and a complex input of length n.
func noisy(n int) (window, re, im []float64) {
	r := random(uint64(n))
	return white(r, n, 1), white(r, n, 1), white(r, n, 1)
}

// largest returns the largest difference of two spectra over the rms of the second.
func largest(x, y []complex128) float64 {
	var most, squares float64
	for k := range y {
		most = max(most, cmplx.Abs(x[k]-y[k]))
		squares += power(y[k])
	}
	return most / math.Sqrt(squares/float64(len(y)))
}

// Every length from 4 on, of both parities, against gonum's general transform. Rounding
// grows as the root of the number of passes; 2e-15 of the rms is about ten times that of
// one operation.
func TestTransformIsGonums(t *testing.T) {
	for n := 4; n <= 1<<14; n *= 2 {
		window, re, im := noisy(n)
		x := make([]complex128, n)
		for i := range x {
			x[i] = complex(window[i]*re[i], window[i]*im[i])
		}
		got := make([]complex128, n)
		newFFT(n).forward(got, window, re, im)
		want := fourier.NewCmplxFFT(n).Coefficients(nil, x)
		if off := largest(got, want); off > 2e-15*math.Sqrt(math.Log2(float64(n)))*2 {
			t.Errorf("length %d: %.2g of the rms off", n, off)
		}
	}
}

// The correlation against gonum's inverse of the whole half spectrum.
func TestCorrelationIsTheInverseTransform(t *testing.T) {
	for _, n := range []int{1024, 4096, 8192} {
		const first, bins = 6, 200
		r := random(uint64(n))
		weight := white(r, bins, 1)
		cross, half := make([]complex128, bins), make([]complex128, n/2+1)
		for i := range cross {
			cross[i] = complex(r.NormFloat64(), r.NormFloat64())
			half[first+i] = cross[i] * complex(weight[i], 0)
		}
		c := newCorrelation(n, first, bins)
		want := fourier.NewFFT(n).Sequence(nil, half)
		for range 2 { // the second time over the result of the first
			c.of(cross, weight)
		}
		for i := -n / 2; i < n/2; i++ {
			if got := c.at(i); math.Abs(got-want[(i+n)%n]) > 1e-12 {
				t.Fatalf("length %d, index %d: %v, want %v", n, i, got, want[(i+n)%n])
			}
		}
	}
}
