package study

import (
	"fmt"
	"math"
	"slices"
)

// Measurement is one tilt measured in a gauge study. The names are the user's own;
// Reseating numbers the seatings of the blade on one unit (by one operator).
type Measurement struct {
	Unit, Operator, Reseating string
	Arcmin                    float64
}

// balanced sorts measurements into cells[first][second][repeat], the levels in order of
// first appearance. It returns an error if the study is not balanced.
func balanced(all []Measurement, first, second func(Measurement) string) ([][][]float64, error) {
	var firsts, seconds []string
	cells := map[[2]string][]float64{}
	for i, m := range all {
		if math.IsNaN(m.Arcmin) || math.IsInf(m.Arcmin, 0) {
			return nil, fmt.Errorf("study: measurement %d (unit %q) is %v", i+1, m.Unit, m.Arcmin)
		}
		a, b := first(m), second(m)
		if !slices.Contains(firsts, a) {
			firsts = append(firsts, a)
		}
		if !slices.Contains(seconds, b) {
			seconds = append(seconds, b)
		}
		cells[[2]string{a, b}] = append(cells[[2]string{a, b}], m.Arcmin)
	}
	sorted := make([][][]float64, len(firsts))
	repeats := 0
	for i, a := range firsts {
		for _, b := range seconds {
			cell := cells[[2]string{a, b}]
			switch {
			case len(cell) == 0:
				return nil, fmt.Errorf("study: nothing was measured for %q with %q", a, b)
			case repeats == 0:
				repeats = len(cell)
			case len(cell) != repeats:
				return nil, fmt.Errorf("study: %q with %q was measured %d times, others %d times: the study must be balanced", a, b, len(cell), repeats)
			}
			sorted[i] = append(sorted[i], cell)
		}
	}
	return sorted, nil
}

// enough returns an error for fewer than two levels of a factor.
func enough(what string, levels int) error {
	if levels < 2 {
		return fmt.Errorf("study: %d %s: at least 2 are needed", levels, what)
	}
	return nil
}

// varies returns an error if all measurements are equal.
func varies(all []Measurement) error {
	for _, m := range all {
		if m.Arcmin != all[0].Arcmin {
			return nil
		}
	}
	return fmt.Errorf("study: all %d measurements are %v arcmin: nothing varies", len(all), all[0].Arcmin)
}

func mean(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v
	}
	return sum / float64(len(x))
}
