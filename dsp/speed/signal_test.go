package speed

import (
	"math"
	"math/rand/v2"
	"testing"

	"headtrue/dsp/audio"
)

// Test signals, made without the package's own code.

const testRate = 48000

// wobble is a sine deviation of the frequency: its peak in per cent.
type wobble struct{ percent, hz float64 }

// tone returns a sine of the given peak whose frequency is hz times 1 plus the wobbles. Its
// phase is the integral of the frequency.
func tone(rate int, seconds, hz, peak float64, wobbles ...wobble) []float64 {
	x := make([]float64, int(seconds*float64(rate)))
	for i := range x {
		t := float64(i) / float64(rate)
		turns := hz * t
		for _, w := range wobbles {
			turns += hz * w.percent / 100 / (2 * math.Pi * w.hz) * (1 - math.Cos(2*math.Pi*w.hz*t))
		}
		x[i] = peak * math.Sin(2*math.Pi*math.Mod(turns, 1))
	}
	return x
}

func hissed(x []float64, seed uint64, rms float64) []float64 {
	r := rand.New(rand.NewPCG(seed, 5))
	y := make([]float64, len(x))
	for i := range x {
		y[i] = x[i] + rms*r.NormFloat64()
	}
	return y
}

// add feeds sound to a meter in blocks of 1000.
func add(m *Meter, left, right []float64) {
	for i := 0; i < len(left); i += 1000 {
		end := min(i+1000, len(left))
		m.Add(audio.Block{Start: m.next, Left: left[i:end], Right: right[i:end]})
	}
}

// heard measures sound with a named tone.
func heard(nominalHz float64, left, right []float64) Result {
	m := New(Settings{RateHz: testRate, NominalHz: nominalHz})
	add(m, left, right)
	return m.Result()
}

// near fails if a figure is not within a tolerance, or not there.
func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: %.6g, want %.6g +- %.2g", what, got, want, tolerance)
	}
}
