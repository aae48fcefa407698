package known

import (
	"math"
	"testing"
)

// Sines between their samples, against the sine itself.
func TestResampledSines(t *testing.T) {
	for _, test := range []struct {
		step, hz float64 // of half the reference's rate
		within   float64
	}{
		{1, 0.02, 2e-4}, {1, 0.4, 2e-4}, {1, 0.7, 2e-4}, {0.97, 0.75, 2e-4}, {1.03, 0.7, 2e-4}, {2, 0.35, 1e-3},
	} {
		omega := test.hz * math.Pi
		x := newStereo(400)
		for i := range x[0] {
			x[0][i], x[1][i] = math.Sin(omega*float64(i)), math.Cos(omega*float64(i))
		}
		r := newResampler(test.step)
		var worst float64
		for at := 50.0; at < 350; at += test.step + 0.0137 {
			l, rr := r.at(x, at)
			worst = max(worst, math.Abs(l-math.Sin(omega*at)), math.Abs(rr-math.Cos(omega*at)))
		}
		t.Logf("step %v, %v of half the rate: off by %.1e", test.step, test.hz, worst)
		if worst > test.within {
			t.Errorf("step %v, %v of half the rate: off by %.1e, want %.0e", test.step, test.hz, worst, test.within)
		}
	}
	// At twice the speed, frequencies above a quarter of the rate must not alias.
	x := newStereo(400)
	for i := range x[0] {
		x[0][i] = math.Sin(0.65 * math.Pi * float64(i))
	}
	r := newResampler(2)
	for at := 50.0; at < 350; at += 2 {
		if l, _ := r.at(x, at); math.Abs(l) > 1e-3 {
			t.Fatalf("a tone of 0.65 of half the rate is left at %.1e when read twice as fast", l)
		}
	}
}
