package dsp

import (
	"math"
	"testing"
)

// A sine stands in its own band with its own level, and in its own channel: by definition.
func TestSpectrumShowsASineInItsBand(t *testing.T) {
	const rate = 48000
	for _, k := range []int{20, 30, 44, 52} {
		hz := BandMiddlesHz()[k]
		s := NewSpectrum(rate)
		left := burst(rate, hz, 0.5)
		for i := range left {
			left[i] *= 0.1
		}
		for from := 0; from < len(left); from += 1000 { // in pieces, as blocks come
			s.Add(left[from:from+1000], make([]float64, 1000))
		}
		levels := s.LevelsDBFS()
		for band, level := range levels[0] {
			switch {
			case band == k && math.Abs(level+20) > 0.1:
				t.Errorf("%.0f Hz at -20 dBFS reads %.2f", hz, level)
			case band < k-2 && level > -60, band > k+2 && level > -60:
				t.Errorf("%.0f Hz: the band of %.0f Hz has %.1f dBFS", hz, BandMiddlesHz()[band], level)
			}
		}
		for band, level := range levels[1] {
			if level > -110 {
				t.Errorf("%.0f Hz on the left: the right channel has %.1f dBFS in band %d", hz, level, band)
			}
		}
	}
}

// White noise of an rms has it in all its bands together, as far as they reach (Parseval).
func TestSpectrumKeepsThePower(t *testing.T) {
	const rate = 48000
	x := burst(rate, 0, 1)
	seed := uint64(1)
	for i := range x {
		seed = seed*6364136223846793005 + 1442695040888963407
		x[i] = 0.1 * (float64(seed>>11)/(1<<52) - 1)
	}
	sum, n := 0.0, 0
	for from := 0; from+4000 <= len(x); from += 4000 {
		s := NewSpectrum(rate)
		s.Add(x[:from+4000], x[:from+4000])
		if from < rate/2 {
			continue
		}
		n++
		for _, level := range s.LevelsDBFS()[1] {
			sum += math.Pow(10, level/10)
		}
	}
	hz := BandMiddlesHz()
	reach := (hz[len(hz)-1]*math.Pow(10, 0.025) - hz[0]*math.Pow(10, -0.025)) / (rate / 2)
	want := 10 * math.Log10(2*0.01/3*reach) // re a full-scale sine
	if got := 10 * math.Log10(sum/float64(n)); math.Abs(got-want) > 0.3 {
		t.Errorf("all bands together %.2f dBFS, want %.2f", got, want)
	}
}
