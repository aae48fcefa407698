package bound

import (
	"math"
	"math/rand/v2"
	"testing"
)

// The wander is simulated as many sinusoids of random phase and averaged sample by
// sample.
func TestWanderMeanAgainstSimulation(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 4))
	for _, w := range []Wander{{1, 0.2, 5, false}, {1, 0.2, 5, true}, {2, 0.05, 5, true}} {
		for _, seconds := range []float64{1, 4} {
			var square float64
			const runs, lines, rate = 1500, 60, 30
			for range runs {
				mean := 0.0
				for range lines {
					hz := w.LowHz + rng.Float64()*(w.HighHz-w.LowHz)
					if w.OneOverF { // uniformly over the logarithm
						hz = w.LowHz * math.Pow(w.HighHz/w.LowHz, rng.Float64())
					}
					phase := 2 * math.Pi * rng.Float64()
					n := int(seconds * rate)
					for i := range n {
						at := (float64(i) + 0.5) / rate
						mean += w.RMSArcmin * math.Sqrt(2.0/lines) * math.Cos(2*math.Pi*hz*at+phase) / float64(n)
					}
				}
				square += mean * mean / runs
			}
			within(t, "mean of wander", w.MeanSDArcmin(seconds), math.Sqrt(square), 0.07)
		}
	}
}

// Limits by hand: over zero time the mean has the rms of the wander; a spectrum flat from
// 0 gives S(0)/(2T) over long times.
func TestWanderMeanLimits(t *testing.T) {
	within(t, "no time, 1/f", Wander{1.5, 0.2, 5, true}.MeanSDArcmin(0), 1.5, 1e-6)
	within(t, "no time, flat", Wander{1.5, 0.2, 5, false}.MeanSDArcmin(0), 1.5, 1e-6)
	within(t, "long", Wander{1.5, 0, 5, false}.MeanSDArcmin(60), 1.5*math.Sqrt(1/(2*60*5.0)), 2e-3)
}

// Figures printed by an independent simulation, for wander of 1' rms over 1, 2, 4 and 8 s
// (two digits, accurate to 4 to 8 % each): they are those of a spectrum of 1/f up to 5
// Hz, from 0.2 Hz and from 0.05 Hz. A flat spectrum gives half.
func TestWanderMeanAgainstPrintedFigures(t *testing.T) {
	for low, printed := range map[float64][4]float64{0.2: {0.49, 0.28, 0.09, 0.06}, 0.05: {0.68, 0.56, 0.42, 0.24}} {
		for i, want := range printed {
			seconds := float64(int(1) << i)
			of := Wander{1, low, 5, true}.MeanSDArcmin(seconds)
			flat := Wander{1, low, 5, false}.MeanSDArcmin(seconds)
			t.Logf("low cut %.2f Hz, %.0f s: 1/f %.3f, flat %.3f, printed %.2f", low, seconds, of, flat, want)
			within(t, "1/f beside what is printed", of, want, 0.12)
			if flat > 0.6*of {
				t.Errorf("low cut %.2f Hz, %.0f s: a flat spectrum leaves %.3f', 1/f %.3f'", low, seconds, flat, of)
			}
		}
	}
}
