package dsp

import (
	"math"
	"testing"
)

// Of white noise a group's mean phase is known to less than the floor, which then
// takes the misfit down to far below 1.
func TestPhaseLineOfOneDelay(t *testing.T) {
	var mean, most float64
	const n = 24
	m := NewMeter(testRate, 0)
	for seed := range uint64(n) {
		m.Reset()
		s := heard(m, deck(seed+300, 4, 5, 20)).Straight
		x, ok := s.Misfit()
		if !ok {
			t.Fatalf("seed %d: 4 s say nothing", seed)
		}
		mean += x / n
		most = max(most, x)
	}
	t.Logf("mean %.2f, most %.2f", mean, most)
	if most > 0.5 {
		t.Errorf("one delay: misfit %.2f in the mean, %.2f at most", mean, most)
	}
}

// A second source of a tenth of the power, 60 us late, bends the phase by degrees.
func TestPhaseLineOfTwoDelays(t *testing.T) {
	var whole Straight
	const n = 4
	m := NewMeter(testRate, 0)
	for seed := range uint64(n) {
		r := random(seed + 500)
		x, y := programme(r, 4*testRate, true), times(programme(r, 4*testRate, true), math.Sqrt(0.1))
		hiss := hissFor(x, 20)
		m.Reset()
		got := heard(m, stereo{plus(plus(x, y), white(r, 4*testRate, hiss)), plus(plus(x, filtered(y, delay(60))), white(r, 4*testRate, hiss))})
		whole.Add(&got.Straight)
	}
	x, _ := whole.Misfit()
	t.Logf("misfit %.2f", x)
	if x < 6 {
		t.Errorf("two delays: misfit %.2f over 16 s, want it above 6", x)
	}
}

func TestPhaseLinesAddUp(t *testing.T) {
	var parts, doubled Straight
	if _, ok := parts.Misfit(); ok {
		t.Error("nothing heard, and yet a misfit")
	}
	m := NewMeter(testRate, 0)
	one := heard(m, deck(1, 4, 5, 20)).Straight
	parts.Add(&one)
	if a, _ := one.Misfit(); a == 0 {
		t.Error("no misfit")
	} else if b, _ := parts.Misfit(); math.Abs(a-b) > 1e-12 {
		t.Errorf("%.6f alone, %.6f added to nothing", a, b)
	}
	doubled.Add(&one)
	doubled.Add(&one)
	a, _ := one.Misfit()
	if b, _ := doubled.Misfit(); b < a || b > 2*a {
		t.Errorf("the same twice over: misfit %.2f, want more, up to twice %.2f", b, a)
	}
}
