package dsp

import (
	"math"
	"math/rand/v2"
	"testing"
)

// In white noise a group's mean phase is more precise than the floor, which then reduces
// the deviations to far below 1.
func TestPhaseLineOfOneDelay(t *testing.T) {
	var mean, most float64
	const n = 24
	m := NewMeter(testRate, 0)
	for seed := range uint64(n) {
		m.Reset()
		s := heard(m, deck(seed+300, 4, 5, 20)).Straight
		x, ok := s.SecondSource()
		if !ok {
			t.Fatalf("seed %d: 4 s say nothing", seed)
		}
		mean += x / n
		most = max(most, x)
	}
	t.Logf("mean %.2f, most %.2f", mean, most)
	if most > 1 {
		t.Errorf("one delay: %.2f deviations in the mean, %.2f at most", mean, most)
	}
}

// A second source bends the phase by degrees. (One of 25 % and 20 us differs from the
// line by less than 2 degrees anywhere, hardly more than the floor.)
func TestPhaseLineOfTwoDelays(t *testing.T) {
	for _, c := range []struct{ power, us, least float64 }{
		{0.1, 60, 4}, {0.1, 150, 4}, {0.5, 60, 10},
	} {
		var whole Straight
		const n = 4
		m := NewMeter(testRate, 0)
		for seed := range uint64(n) {
			r := random(seed + 500)
			x, y := programme(r, 4*testRate, true), times(programme(r, 4*testRate, true), math.Sqrt(c.power))
			hiss := hissFor(x, 20)
			m.Reset()
			got := heard(m, stereo{plus(plus(x, y), white(r, 4*testRate, hiss)), plus(plus(x, filtered(y, delay(c.us))), white(r, 4*testRate, hiss))})
			whole.Add(&got.Straight)
		}
		x, _ := whole.SecondSource()
		t.Logf("%.0f %% of the power %.0f us late: %.2f deviations", 100*c.power, c.us, x)
		if x < c.least {
			t.Errorf("%.0f %% of the power %.0f us late: %.2f deviations over 16 s, want %.1f", 100*c.power, c.us, x, c.least)
		}
	}
}

// A delay is found by its own shape: phases with this shape of several deviations give
// the same number at that delay and fewer at others; a line adds none.
func TestMatchedFindsItsOwnShape(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	var means []strayedMean
	for i := range 24 {
		means = append(means, strayedMean{omega: 2 * math.Pi * (600 + 560*float64(i)), weight: 2000 * (1 + r.Float64())})
	}
	const late, share = 60e-6, 0.1
	for i, m := range means {
		means[i].phase = share*math.Sin(m.omega*late) + 3e-6*m.omega
	}
	// the residual of the shape from the line, by its weighted sum of squares
	var sss, sso, soo float64
	for _, m := range means {
		s := math.Sin(m.omega * late)
		sss, sso, soo = sss+m.weight*s*s, sso+m.weight*s*m.omega, soo+m.weight*m.omega*m.omega
	}
	want := share * math.Sqrt(sss-sso*sso/soo)
	if got := matched(means, late); math.Abs(got-want) > 1e-9 {
		t.Errorf("%.6f deviations, want %.6f", got, want)
	}
	for _, other := range []float64{20e-6, 40e-6, 90e-6, 150e-6} {
		if got := math.Abs(matched(means, other)); got >= want {
			t.Errorf("%.0f us: %.2f deviations, more than the %.2f of the delay that is there", other*1e6, got, want)
		}
	}
}

// One delay in plain noise: the greatest of all delays tried is about 2 deviations.
func TestSecondSourceByChance(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	const n, blocks = 400, 100
	var mean float64
	above := 0
	for range n {
		var s Straight
		for i := range 24 {
			for range blocks {
				// a scatter so great that the floor has no effect
				const sd = 2.0
				s.groups[i].add(2*math.Pi*(600+560*float64(i)), sd*r.NormFloat64(), sd*sd)
			}
		}
		x, ok := s.SecondSource()
		if !ok {
			t.Fatal("nothing is said")
		}
		mean += x / n
		if x > 3.2 {
			above++
		}
	}
	t.Logf("mean %.2f, %d of %d above 3.2", mean, above, n)
	if mean < 1.6 || mean > 2.3 || above > n/30 {
		t.Errorf("mean of %.2f deviations, %d of %d above 3.2; want 1.6 to 2.3, and few", mean, above, n)
	}
}

func TestPhaseLinesAddUp(t *testing.T) {
	var parts, doubled Straight
	if _, ok := parts.SecondSource(); ok {
		t.Error("nothing heard, and yet a second source")
	}
	m := NewMeter(testRate, 0)
	one := heard(m, deck(1, 4, 5, 20)).Straight
	parts.Add(&one)
	a, _ := one.SecondSource()
	if a == 0 {
		t.Error("no deviations")
	} else if b, _ := parts.SecondSource(); math.Abs(a-b) > 1e-12 {
		t.Errorf("%.6f alone, %.6f added to nothing", a, b)
	}
	doubled.Add(&one)
	doubled.Add(&one)
	if b, _ := doubled.SecondSource(); b < a || b > 1.5*a {
		t.Errorf("the same twice over: %.2f deviations, want more, up to 1.5 times %.2f", b, a)
	}
}
