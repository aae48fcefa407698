package study

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

// near: got within tolerance of want.
func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s is %.10g, want %.10g within %.2g", what, got, want, tolerance)
	}
}

// covers compares a coverage counted in trials with 95 %: within the stated band, plus
// three standard deviations of the count.
func covers(t *testing.T, what string, held, trials int, low, high float64) {
	t.Helper()
	share := float64(held) / float64(trials)
	t.Logf("%-58s %5.1f %% of %d", what, 100*share, trials)
	chance := 3 * math.Sqrt(0.95*0.05/float64(trials))
	if share < low-chance || share > high+chance {
		t.Errorf("%s: the intervals for 95 %% held in %.1f %%", what, 100*share)
	}
}

// spreads are true standard deviations of a simulated study.
type spreads struct{ part, operator, interaction, repeat float64 }

func gaugeStudy(rng *rand.Rand, s spreads, units, operators, repeats int) []Measurement {
	byOperator := make([]float64, operators)
	for j := range byOperator {
		byOperator[j] = s.operator * rng.NormFloat64()
	}
	var all []Measurement
	for i := range units {
		part := s.part * rng.NormFloat64()
		for j := range operators {
			cell := part + byOperator[j] + s.interaction*rng.NormFloat64()
			for range repeats {
				all = append(all, Measurement{Unit: fmt.Sprint("u", i), Operator: fmt.Sprint("o", j), Arcmin: cell + s.repeat*rng.NormFloat64()})
			}
		}
	}
	return all
}

func seatingStudy(rng *rand.Rand, part, seating, repeat float64, units, reseatings, repeats int) []Measurement {
	var all []Measurement
	for i := range units {
		unit := part * rng.NormFloat64()
		for j := range reseatings {
			seat := unit + seating*rng.NormFloat64()
			for range repeats {
				all = append(all, Measurement{Unit: fmt.Sprint("u", i), Reseating: fmt.Sprint(j), Arcmin: seat + repeat*rng.NormFloat64()})
			}
		}
	}
	return all
}
