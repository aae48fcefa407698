package study

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

// TestChoiceFindsTheLaw counts how often the law of the points is the best by AICc, or
// within 2 of it.
func TestChoiceFindsTheLaw(t *testing.T) {
	const trials = 100
	rng := rand.New(rand.NewPCG(5, 1))
	for _, head := range []truth{{Constant, 2, 0, 0}, {Creep, 2, -0.02, 0}, {Settling, 2, 1.5, 10}, {PowerLaw, -1, 0.5, 0.3}} {
		best, close := 0, 0
		for range trials {
			got, err := ChooseDrift(head.proofs(rng, 40, 90, 1), Models(false, false))
			if err != nil {
				t.Fatal(err)
			}
			if got.Ranked[0].Fit.Model.Law == head.law {
				best++
			}
			for _, r := range got.Ranked {
				if r.Fit.Model.Law == head.law && r.Delta <= hardlyWorse {
					close++
				}
			}
		}
		t.Logf("%-34s best in %d, best or within 2 in %d of %d", head.law, best, close, trials)
		if best < 70 || close < 85 {
			t.Errorf("%s is best in %d and close in %d of %d", head.law, best, close, trials)
		}
	}
}

// TestAICcByHand: 4 points 1, 2, 2, 3 about their mean of 2: chi2 = 2, K = 2.
func TestAICcByHand(t *testing.T) {
	got, err := FitDrift([]Point{{Days: 0, Arcmin: 1}, {Days: 1, Arcmin: 2}, {Days: 2, Arcmin: 2}, {Days: 3, Arcmin: 3}}, Model{})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "AICc", got.AICc, 4*math.Log(0.5)+4+12, 1e-12)
	near(t, "lag 1", got.Lag1, 0, 1e-12) // -1 0 0 1
	near(t, "a", got.Params[0].Value, 2, 1e-12)
	near(t, "sd of a", got.Params[0].SD, math.Sqrt(2./3/4), 1e-12)
}

// TestAutocorrelationIsNoted: white residuals in 5 of 100 (the bound is asymptotic),
// those of a first-order process of 0.7 nearly always, with Lag1 near 0.7.
func TestAutocorrelationIsNoted(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 1))
	for _, test := range []struct {
		alike     float64
		low, high int
	}{{0, 10, 60}, {0.7, 980, 1000}} {
		noted, sum := 0, 0.0
		for range 1000 {
			var points []Point
			state := rng.NormFloat64()
			for i := range 60 {
				state = test.alike*state + math.Sqrt(1-test.alike*test.alike)*rng.NormFloat64()
				points = append(points, Point{Days: float64(i), Arcmin: state})
			}
			got, err := FitDrift(points, Model{})
			if err != nil {
				t.Fatal(err)
			}
			sum += got.Lag1 / 1000
			if strings.Contains(got.Say(), "alike") {
				noted++
			}
		}
		t.Logf("lag-1 correlation %.1f: noted in %d of 1000, mean estimate %.3f", test.alike, noted, sum)
		if noted < test.low || noted > test.high {
			t.Errorf("correlation %v noted in %d of 1000", test.alike, noted)
		}
		near(t, "mean lag-1", sum, test.alike, 0.08) // biased low by about (1+3r)/n
	}
}
