package dsp

import (
	"math"
	"testing"
)

// hannCosts returns the cost of Hann frames at half overlap in standard deviation over n
// samples, relative to equal weights. A level or phase weights sound by the sum of the
// frames' squared windows (equal to the power of all bins of a frame, by Parseval), a
// frequency by the windows times the numbers of their frames. The ripple of that sum
// costs 1.027; the ends and the samples after the last frame cost the rest.
func hannCosts(n int) (phase, frequency float64) {
	frames := (n - 512) / 512
	weight, ramp := make([]float64, n), make([]float64, n)
	middle := float64(frames-1) / 2
	var each, moment float64
	for t := range frames {
		number := float64(t) - middle
		for i := range 1024 {
			w := 0.5 - 0.5*math.Cos(2*math.Pi*float64(i)/1024)
			weight[512*t+i] += w * w
			ramp[512*t+i] += number * w * w
			each += w * w / float64(frames)
		}
		moment += number * number
	}
	var sum, squares, rampSquares float64
	for i, v := range weight {
		sum += v
		squares += v * v
		rampSquares += ramp[i] * ramp[i]
	}
	slope := math.Sqrt(rampSquares) / (each * moment) / 512
	best := math.Sqrt(12 / float64(n) / (float64(n)*float64(n) - 1))
	return math.Sqrt(squares*float64(n)) / sum, slope / best
}

// Level, phase between the channels and frequency of a steady real tone in
// white noise against their Cramer-Rao bounds (Rife and Boorstyn, IEEE Trans.
// IT 20, 1974; for real tones Kay, Fundamentals of Statistical Signal
// Processing, 1993; both from memory), with r = A²/(2 s²):
//
//	var A >= 2 s²/N, var phase >= 1/(r N) in each channel (the frequency, common
//	to both, leaves their difference alone), var f >= 12 fs²/((2 pi)² r N (N²-1))
//
// Two channels with independent noise halve the first and the last. The errors must be
// the bounds times the cost of the window, and no more.
func TestToneReachesItsBounds(t *testing.T) {
	const amplitude, degrees, trials = 0.1, 25.0, 300
	for _, test := range []struct {
		seconds, hz, snrDB float64
	}{{0.5, 10050, 20}, {0.5, 1010, 20}, {0.3, 10000, 10}} {
		n := int(test.seconds * testRate)
		s := hissUnder(amplitude, test.snrDB)
		r := amplitude * amplitude / (2 * s * s)
		bounds := [3]float64{
			20 / math.Ln10 * math.Sqrt(2*s*s/float64(n)) / amplitude / math.Sqrt2,
			math.Sqrt(2/(r*float64(n))) * 180 / math.Pi,
			testRate / (2 * math.Pi) * math.Sqrt(12/(2*r*float64(n)*(float64(n)*float64(n)-1))),
		}
		var squares [3]float64
		left, right := toneOf(n, test.hz, amplitude, 0, 0, 0), toneOf(n, test.hz, amplitude, -degrees, 0, 0)
		m := NewMeter(testRate, math.Round(test.hz/100)*100)
		for seed := range uint64(trials) {
			noise := random(seed + 1000)
			m.Reset()
			got := heard(m, stereo{plus(left, white(noise, n, s)), plus(right, white(noise, n, s))})
			for i, off := range [3]float64{float64(got.ToneSum) - 20*math.Log10(amplitude) - 3.0103, got.TonePhaseDeg - degrees, got.ToneHz - test.hz} {
				squares[i] += off * off / trials
			}
		}
		phase, frequency := hannCosts(n)
		for i, cost := range [3]float64{phase, phase, frequency} {
			rms := math.Sqrt(squares[i])
			ratio := rms / bounds[i]
			t.Logf("%v s, %v Hz, %v dB: %s rms %.3g, %.3f of the bound, of which the window costs %.3f",
				test.seconds, test.hz, test.snrDB, [3]string{"level", "phase", "frequency"}[i], rms, ratio, cost)
			// 300 trials determine an rms to 4.1 %.
			if math.Abs(ratio/cost-1) > 0.1 || i < 2 && ratio > 1.1 {
				t.Errorf("%v s, %v Hz, %v dB, value %d: %.3f of the bound, want %.3f", test.seconds, test.hz, test.snrDB, i, ratio, cost)
			}
		}
	}
}
