package known

import (
	"math"
	"math/cmplx"
)

const (
	furthestSeconds = 620e-6 // search limit for delays between the channels
	lookSeconds     = 5e-6   // in steps of
	phaseTrust      = 0.0025 // error power re signal assumed in every bin
)

// phaseLine is the phase of right against left over frequency, minus the reference's own,
// with weights.
type phaseLine struct {
	omega, weight []float64
	unit          []complex128
}

// phaseLine takes each bin's phase, weighted by its inverse variance. The variance of one
// channel's phase is noise over twice the signal, (1-γ²)/(2nγ²) for n frames (Knapp and
// Carter, IEEE Trans. ASSP 24(4), 1976); those of both channels add.
func (s *sums) phaseLine(hz float64) *phaseLine {
	p := &phaseLine{}
	responses := [2][]float64{s.smoothResponse(0), s.smoothResponse(1)}
	noises := [2][]float64{s.smoothNoise(0), s.smoothNoise(1)}
	low, high := int(math.Ceil(followLowHz/hz)), min(int(followHighHz/hz), len(s.ref[0])-1)
	for k := low; k <= high; k++ {
		var variance float64
		for c := range 2 {
			signal := responses[c][k] * s.ref[c][k]
			variance += (noises[c][k]/(signal+1e-30) + phaseTrust/effective(s.frames)) / 2
		}
		z := s.cross[1][k] * cmplx.Conj(s.cross[0][k])
		if size := cmplx.Abs(z); size > 0 && variance < 1 {
			p.omega = append(p.omega, 2*math.Pi*hz*float64(k))
			p.weight = append(p.weight, 1/variance)
			p.unit = append(p.unit, z/complex(size, 0))
		}
	}
	return p
}

// smoothResponse returns the power response of a channel, averaged over neighbours.
func (s *sums) smoothResponse(c int) []float64 {
	shared := make([]float64, len(s.ref[c]))
	for k := range shared {
		shared[k], _ = s.shared(c, k)
	}
	shared = runningMean(shared, smoothBins)
	ref := runningMean(s.ref[c], smoothBins)
	for k := range shared {
		shared[k] = max(0, shared[k]) / (ref[k] + 1e-30)
	}
	return shared
}

func (s *sums) smoothNoise(c int) []float64 {
	noise := make([]float64, len(s.ref[c]))
	for k := range noise {
		_, noise[k] = s.shared(c, k)
	}
	return runningMean(noise, smoothBins)
}

// look returns the delay of right to the nearest step, and the polarity, -1 if one
// channel is inverted against the other.
func (p *phaseLine) look() (seconds, polarity float64) {
	best := 0.0
	polarity = 1
	for at := -furthestSeconds; at <= furthestSeconds; at += lookSeconds {
		if height, _, _ := p.turned(at); math.Abs(height) > best {
			best, seconds, polarity = math.Abs(height), at, math.Copysign(1, height)
		}
	}
	return seconds, polarity
}

// refine returns the maximum of the likelihood near a delay.
func (p *phaseLine) refine(seconds, polarity float64) float64 {
	for range 12 {
		_, across, along := p.turned(seconds)
		if along *= polarity; along <= 0 {
			return seconds
		}
		seconds -= max(-1e-5, min(1e-5, polarity*across/along))
	}
	return seconds
}

// turned sums the weighted real part of the phases turned back by a delay, ω times the
// imaginary and ω² times the real part.
func (p *phaseLine) turned(seconds float64) (height, across, along float64) {
	for i, u := range p.unit {
		z := u * cmplx.Rect(1, p.omega[i]*seconds)
		height += p.weight[i] * real(z)
		across += p.weight[i] * p.omega[i] * imag(z)
		along += p.weight[i] * p.omega[i] * p.omega[i] * real(z)
	}
	return height, across, along
}
