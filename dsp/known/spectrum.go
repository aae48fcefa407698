package known

import "math"

// frameLength returns the length of a frame at the rate: 2048 near 48 kHz, and the power
// of two of about the same duration at other rates.
func frameLength(rate int) int {
	n := 2048
	for rate > n*33 {
		n *= 2
	}
	for 2*rate < n*33 && n > 256 {
		n /= 2
	}
	return n
}

// hann returns the periodic Hann window.
func hann(n int) []float64 {
	w := make([]float64, n)
	for i := range w {
		w[i] = 0.5 - 0.5*math.Cos(2*math.Pi*float64(i)/float64(n))
	}
	return w
}

func power(z complex128) float64 { return real(z)*real(z) + imag(z)*imag(z) }

// runningMean returns the mean of each value and its neighbours within reach.
func runningMean(x []float64, reach int) []float64 {
	sums := make([]float64, len(x)+1)
	for i, v := range x {
		sums[i+1] = sums[i] + v
	}
	means := make([]float64, len(x))
	for i := range x {
		from, to := max(0, i-reach), min(len(x), i+reach+1)
		means[i] = (sums[to] - sums[from]) / float64(to-from)
	}
	return means
}

// whiten leaves only the phase of conj(x) y in x, from low up to high. Bins 60 dB under
// the largest count less.
func whiten(x, y []complex128, low, high int) {
	var largest float64
	for k := low; k < high; k++ {
		largest = max(largest, power(x[k])*power(y[k]))
	}
	floor := 1e-6*math.Sqrt(largest) + 1e-30
	for k := range x {
		if k < low || k >= high {
			x[k] = 0
			continue
		}
		z := complex(real(x[k]), -imag(x[k])) * y[k]
		x[k] = z / complex(math.Sqrt(power(z))+floor, 0)
	}
}
