package speed

import (
	"math"
	"math/bits"

	"gonum.org/v1/gonum/dsp/fourier"
	"gonum.org/v1/gonum/dsp/window"
)

const (
	leastHz      = 200   // the lowest tone
	greatestHz   = 20000 // the highest, and the limit of the power that it is compared with
	searchShare  = 0.07  // a tone is sought within this share of its nominal frequency
	nominalShare = 0.05  // a nominal frequency is stated within this share
	pureShare    = 0.8   // least share of all power that a tone without a name has
	lineShare    = 0.02  // power within this share of the frequency belongs to the tone:
	leastLineHz  = 30    // its flutter is there
)

// highest returns the highest tone that can be demodulated at a rate.
func highest(rateHz int) float64 {
	return min(greatestHz, (float64(rateHz)/2-passHz-transitionHz)/(1+passShare))
}

// strongest returns the frequency of the strongest line of both channels together between
// two frequencies, and its share of all power from 200 Hz to 20 kHz; 0 without sound. The
// frequency is the centre of the power around the highest point, so that flutter, which
// spreads the line, does not move it.
func strongest(sound [2][]float64, rateHz int, low, high float64) (hz, share float64) {
	n := 1 << (bits.Len(uint(len(sound[0]))) - 1)
	fft, shape := fourier.NewFFT(n), window.Hann(ones(n))
	power := make([]float64, n/2+1)
	x := make([]float64, n)
	var z []complex128
	for _, samples := range sound {
		for i := range x {
			x[i] = shape[i] * samples[i]
		}
		z = fft.Coefficients(z, x)
		for k, v := range z {
			power[k] += real(v)*real(v) + imag(v)*imag(v)
		}
	}
	binHz := float64(rateHz) / float64(n)
	bins := func(from, to float64) (int, int) {
		return max(1, int(math.Ceil(from/binHz))), min(int(to/binHz), len(power)-1)
	}
	first, last := bins(low, high)
	best := first
	for k := first; k <= last; k++ {
		if power[k] > power[best] {
			best = k
		}
	}
	middle := float64(best) * binHz
	reach := max(lineShare*middle, leastLineHz)
	var line, moment, all float64
	first, last = bins(middle-reach, middle+reach)
	for k := first; k <= last; k++ {
		line += power[k]
		moment += power[k] * float64(k) * binHz
	}
	first, last = bins(leastHz, greatestHz)
	for k := first; k <= last; k++ {
		all += power[k]
	}
	if line == 0 || all == 0 {
		return 0, 0
	}
	return moment / line, line / all
}

// nominal returns the nearest of Nominals within 5 %, or 0.
func nominal(hz float64) float64 {
	best := 0.0
	for _, n := range Nominals {
		if math.Abs(hz/n-1) <= nominalShare && (best == 0 || math.Abs(hz/n-1) < math.Abs(hz/best-1)) {
			best = n
		}
	}
	return best
}

func ones(n int) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = 1
	}
	return x
}
