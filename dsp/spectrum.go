package dsp

import (
	"math"
	"math/bits"
)

// Bands of a Spectrum are sixth octaves: their middles are 1000 Hz times 10^(k/20), k from
// lowestBand on.
const (
	lowestBand = -30
	bandCount  = 57
)

// LeastBandDBFS is the level of a band without sound.
const LeastBandDBFS = -120

// Spectrum measures the levels of both channels in sixth octaves, over the newest third of a
// second, by one windowed transform. It is for drawing: Meter measures. Begin with NewSpectrum.
type Spectrum struct {
	transform   *fft
	window      []float64
	left, right []float64 // the newest samples, oldest first
	z           []complex128
	scale       float64
	cut         [bandCount + 1]float64 // of the bands, in bins
}

// NewSpectrum returns the spectrum of silence.
func NewSpectrum(rateHz int) *Spectrum {
	n := 1 << bits.Len(uint(rateHz/3))
	s := &Spectrum{transform: newFFT(n), window: make([]float64, n), left: make([]float64, n), right: make([]float64, n), z: make([]complex128, n)}
	sum := 0.0
	for i := range s.window {
		s.window[i] = 0.5 - 0.5*math.Cos(2*math.Pi*(float64(i)+0.5)/float64(n))
		sum += s.window[i] * s.window[i]
	}
	s.scale = 4 / (float64(n) * sum) // one-sided power, a full-scale sine is 1
	for k := range s.cut {
		hz := 1000 * math.Pow(10, (float64(lowestBand+k)-0.5)/20)
		s.cut[k] = min(hz*float64(n)/float64(rateHz)+0.5, float64(n/2))
	}
	return s
}

// BandMiddlesHz are the middles of the bands.
func BandMiddlesHz() []float64 {
	hz := make([]float64, bandCount)
	for k := range hz {
		hz[k] = 1000 * math.Pow(10, float64(lowestBand+k)/20)
	}
	return hz
}

// Add passes on the next samples.
func (s *Spectrum) Add(left, right []float64) {
	s.left, s.right = newest(s.left, left), newest(s.right, right)
}

func newest(held, more []float64) []float64 {
	if len(more) >= len(held) {
		copy(held, more[len(more)-len(held):])
		return held
	}
	copy(held, held[len(more):])
	copy(held[len(held)-len(more):], more)
	return held
}

// LevelsDBFS returns the level of each band, left and right; a full-scale sine is 0.
func (s *Spectrum) LevelsDBFS() (levels [2][]float64) {
	s.transform.forward(s.z, s.window, s.left, s.right)
	n := len(s.z)
	power := func(bin int) (l, r float64) { // two real transforms from one complex one
		a, b := s.z[bin], s.z[n-bin]
		lr, li := real(a)+real(b), imag(a)-imag(b)
		rr, ri := imag(a)+imag(b), real(b)-real(a)
		return s.scale * (lr*lr + li*li) / 4, s.scale * (rr*rr + ri*ri) / 4
	}
	levels = [2][]float64{make([]float64, bandCount), make([]float64, bandCount)}
	for k := range bandCount {
		var sum [2]float64
		from, to := s.cut[k], s.cut[k+1]
		for bin := max(1, int(from)); bin < n/2 && float64(bin) < to; bin++ {
			share := min(float64(bin+1), to) - max(float64(bin), from)
			if l, r := power(bin); share > 0 {
				sum[0] += share * l
				sum[1] += share * r
			}
		}
		for c := range sum {
			levels[c][k] = max(LeastBandDBFS, 10*math.Log10(sum[c]))
		}
	}
	return levels
}
