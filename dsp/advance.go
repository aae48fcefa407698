package dsp

import (
	"math"
	"math/cmplx"
)

// advance measures the frequency of a tone by a least-squares straight line through its
// phase against time: one line for each unbroken run of frames, one slope for all. For a
// steady tone in white noise this is near the bound (Tretter, IEEE Trans. IT 31, 1985,
// from memory) as long as no turn is miscounted. From frame to frame the count follows
// the tone's position in the two spectra, which flutter may move.
type advance struct {
	nominal float64 // bins

	// The newest frame.
	frame int        // its number; a gap in the sound skips one
	at    float64    // bins
	phase [2]float64 // at its middle, per channel

	// The last counted frame, and the run that it ends.
	lastFrame int
	lastAt    float64
	lastPhase [2]float64
	beyond    [2]float64 // radians ahead of the nominal frequency
	n, t, tt  float64    // sums of 1, of the frame's number in the run, of its square
	p, tp     [2]float64 // of beyond, of the number times beyond

	// The runs before, each about its own means.
	spread float64
	slope  [2]float64
}

func (a *advance) breakOff() { a.frame++ }

// hear takes the phases of a frame whose tone is at the bin.
func (a *advance) hear(at float64, s *spectra) {
	a.frame++
	a.at = at
	var sum [2]complex128
	first := max(0, int(at)-1)
	for k := first; k < first+4; k++ {
		size := hannLobe(at - float64(k))
		if k%2 == 1 {
			size = -size
		}
		sum[0] += s.left[k] * complex(size, 0)
		sum[1] += s.right[k] * complex(size, 0)
	}
	for c, z := range sum {
		a.phase[c] = cmplx.Phase(z)
	}
}

// hannLobe returns the spectrum of a Hann window, x bins from its middle, which is 1
// (Harris 1978). Relative to the middle of the frame, the bins around a tone have its
// phase and these sizes, with alternating signs.
func hannLobe(x float64) float64 {
	switch {
	case math.Abs(x) < 1e-4:
		return 1
	case math.Abs(math.Abs(x)-1) < 1e-4:
		return 0.5
	}
	return math.Sin(math.Pi*x) / (math.Pi * x * (1 - x*x))
}

// keep counts the newest frame.
func (a *advance) keep() {
	if a.n > 0 && a.frame == a.lastFrame+1 {
		expect := math.Pi * 0.5 * (a.at + a.lastAt) // half a turn of the phase for each bin
		for c, phase := range a.phase {
			a.beyond[c] += expect - math.Pi*a.nominal + math.Remainder(phase-a.lastPhase[c]-expect, 2*math.Pi)
		}
	} else {
		a.spread, a.slope = a.sums()
		a.beyond, a.n, a.t, a.tt, a.p, a.tp = [2]float64{}, 0, 0, 0, [2]float64{}, [2]float64{}
	}
	for c, beyond := range a.beyond {
		a.p[c] += beyond
		a.tp[c] += a.n * beyond
	}
	a.t += a.n
	a.tt += a.n * a.n
	a.n++
	a.lastFrame, a.lastAt, a.lastPhase = a.frame, a.at, a.phase
}

// sums returns the sums over all runs.
func (a *advance) sums() (spread float64, slope [2]float64) {
	if a.n == 0 {
		return a.spread, a.slope
	}
	spread = a.spread + a.tt - a.t*a.t/a.n
	for c := range slope {
		slope[c] = a.slope[c] + a.tp[c] - a.t*a.p[c]/a.n
	}
	return spread, slope
}

// bins returns the frequency, the channels weighted by their powers; unknown before two
// consecutive frames have counted.
func (a *advance) bins(powers [2]float64) (bins float64, known bool) {
	spread, slope := a.sums()
	total := powers[0] + powers[1]
	if spread == 0 || total == 0 {
		return 0, false
	}
	return a.nominal + (powers[0]*slope[0]+powers[1]*slope[1])/(total*spread*math.Pi), true
}
