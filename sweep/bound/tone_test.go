package bound

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"

	"headtrue/sweep/fit"
)

// within checks that a value is within a fraction of the expected one.
func within(t *testing.T, what string, got, want, part float64) {
	t.Helper()
	if !(math.Abs(got/want-1) <= part) {
		t.Errorf("%s: %.6g, want %.6g within %g of it", what, got, want, part)
	}
}

// The information matrix of a sampled sinusoid, summed sample by sample and inverted,
// instead of the closed forms.
func TestToneBoundsAreTheInverseOfTheInformation(t *testing.T) {
	tone := Tone{SNR: 50, Samples: 4800, RateHz: 48000}
	const hz, phase, amplitude = 9123.0, 0.7, 2.0
	noise := amplitude * amplitude / 2 / tone.SNR
	information := mat.NewSymDense(3, nil)
	for i := range tone.Samples {
		at := float64(i) / tone.RateHz
		sin, cos := math.Sincos(2*math.Pi*hz*at + phase)
		d := []float64{cos, -amplitude * sin * 2 * math.Pi * at, -amplitude * sin}
		for j := range d {
			for k := j; k < 3; k++ {
				information.SetSym(j, k, information.At(j, k)+d[j]*d[k]/noise)
			}
		}
	}
	var inverse mat.Dense
	if err := inverse.Inverse(information); err != nil {
		if _, near := err.(mat.Condition); !near {
			t.Fatal(err)
		}
	}
	within(t, "amplitude", tone.AmplitudeRatioSD()*amplitude, math.Sqrt(inverse.At(0, 0)), 1e-3)
	within(t, "frequency", tone.FrequencySDHz(), math.Sqrt(inverse.At(1, 1)), 1e-3)
	within(t, "phase", tone.PhaseSDRad(), math.Sqrt(inverse.At(2, 2)), 1e-3)
}

// Rife and Boorstyn, IEEE Trans. IT 20(5) 591-598, 1974, complex tone of amplitude A with
// noise of variance s^2 in each part: var omega >= 12 s^2/(A^2 T^2 N (N^2-1)), var phase
// >= 12 s^2 (n0^2 N + 2 n0 P + Q) / (A^2 N^2 (N^2-1)), P = N(N-1)/2, Q = N(N-1)(2N-1)/6,
// n0 the number of the first sample. The real tone has half of the information.
func TestToneBoundsAgainstRifeAndBoorstyn(t *testing.T) {
	tone := Tone{SNR: 20, Samples: 1000, RateHz: 44100}
	n := float64(tone.Samples)
	ratio := 1 / (2 * tone.SNR) // s^2/A^2
	omega := 12 * ratio * tone.RateHz * tone.RateHz / (n * (n*n - 1))
	within(t, "frequency", tone.FrequencySDHz(), math.Sqrt(2*omega)/(2*math.Pi), 1e-9)
	phase := func(n0 float64) float64 {
		p, q := n*(n-1)/2, n*(n-1)*(2*n-1)/6
		return 12 * ratio * (n0*n0*n + 2*n0*p + q) / (n * n * (n*n - 1))
	}
	within(t, "phase", tone.PhaseSDRad(), math.Sqrt(2*phase(0)), 1e-9)
	within(t, "phase in the middle", tone.MiddlePhaseSDRad(), math.Sqrt(2*phase(-(n-1)/2)), 1e-9)
}

// trials of a simulation: their standard deviation has a relative standard error of
// 1/sqrt(2 trials), 3.5 %; it must match the bound within four times that.
const (
	trials     = 400
	mostBeside = 0.14
)

// A least-squares fit of a sinusoid is the maximum-likelihood estimate in white noise; at
// this signal-to-noise it reaches its bound.
func TestToneBoundsAreReached(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 1))
	tone := Tone{SNR: 100, Samples: 200, RateHz: 8000}
	truth := []float64{1, 1234.5, 0.4}
	wave := func(p []float64, i int) float64 {
		return p[0] * math.Cos(2*math.Pi*p[1]*float64(i)/tone.RateHz+p[2])
	}
	y := make([]float64, tone.Samples)
	var squares [3]float64
	for range trials {
		for i := range y {
			y[i] = wave(truth, i) + rng.NormFloat64()/math.Sqrt(2*tone.SNR)
		}
		found, err := fit.Solve(fit.Problem{N: len(y), Residuals: func(dst, p []float64) {
			for i := range y {
				dst[i] = y[i] - wave(p, i)
			}
		}}, truth)
		if err != nil {
			t.Fatal(err)
		}
		for k := range squares {
			squares[k] += math.Pow(found.Params[k]-truth[k], 2) / trials
		}
	}
	within(t, "amplitude over its bound", math.Sqrt(squares[0]), tone.AmplitudeRatioSD(), mostBeside)
	within(t, "frequency over its bound", math.Sqrt(squares[1]), tone.FrequencySDHz(), mostBeside)
	within(t, "phase over its bound", math.Sqrt(squares[2]), tone.PhaseSDRad(), mostBeside)
}

// A tone of 10 kHz for 1 s, 20 dB above the noise in 6 to 14 kHz, by hand: N SNR = 2 8000
// 100, each phase has 1/sqrt(1.6e6) = 0.79 mrad, their difference 1.12 mrad, 17.8 ns; the
// level has 8.686 times 0.79e-3.
func TestToneInABandByHand(t *testing.T) {
	tone := BandTone(100, Band{6000, 14000}, 1)
	within(t, "delay of the pair", PairDelaySDUS(tone, tone, 10000), 0.017794, 1e-4)
	within(t, "level", tone.LevelSDDB(), 0.0068669, 1e-4)
}
