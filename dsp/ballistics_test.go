package dsp

import (
	"math"
	"testing"
)

func burst(rate int, hz, seconds float64) []float64 {
	x := make([]float64, int(float64(rate)*seconds))
	for i := range x {
		x[i] = math.Sin(2 * math.Pi * hz * float64(i) / float64(rate))
	}
	return x
}

// Bursts of 5 kHz against what a steady tone reads: IEC 60268-10, table for type I meters (limits
// from memory). The return is 20 dB in 1.7 s, ±0.3 s.
func TestQuasiPeakReadsBurstsAsTheStandardSays(t *testing.T) {
	for _, rate := range []int{44100, 48000, 96000} {
		steady := NewBallistics(rate)
		steady.Add(burst(rate, 5000, 1))
		for _, c := range []struct{ ms, want, within float64 }{{10, -1, 0.5}, {5, -2, 1}, {3, -4, 1}, {0.4, -15, 4}} {
			b := NewBallistics(rate)
			b.Add(burst(rate, 5000, c.ms/1000))
			if got := float64(b.QuasiPeak() - steady.QuasiPeak()); math.Abs(got-c.want) > c.within {
				t.Errorf("%d Hz, a burst of %g ms reads %.2f dB, want %g within %g", rate, c.ms, got, c.want, c.within)
			}
		}
		top, seconds := steady.QuasiPeak(), 0.0
		for steady.QuasiPeak() > top-20 {
			steady.Add(make([]float64, rate/100))
			seconds += 0.01
		}
		if math.Abs(seconds-1.7) > 0.3 {
			t.Errorf("%d Hz: it returns by 20 dB in %.2f s", rate, seconds)
		}
	}
}

// A tone of 1 kHz switched on: IEC 60268-17 has 99 % of the steady reading after 300 ms, within
// 10 %, and an overshoot of 1 to 1.5 % (from memory).
func TestVolumeRisesAsTheStandardSays(t *testing.T) {
	const rate = 48000
	b := NewBallistics(rate)
	x := burst(rate, 1000, 2)
	reached, most := 0.0, 0.0
	for i := 0; i < len(x); i += 48 {
		b.Add(x[i : i+48])
		v := math.Pow(10, float64(b.Volume())/20)
		if reached == 0 && v >= 0.99 {
			reached = float64(i+48) / rate
		}
		most = max(most, v)
	}
	if math.Abs(reached-0.3) > 0.03 || most < 1.01 || most > 1.015 {
		t.Errorf("99 %% after %.3f s, overshoot %.2f %%", reached, 100*(most-1))
	}
	if got := float64(b.Volume()); math.Abs(got) > 0.02 {
		t.Errorf("a steady full-scale sine reads %.3f dB", got)
	}
}
