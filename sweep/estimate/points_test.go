package estimate

import "testing"

func TestMedian(t *testing.T) {
	for want, of := range map[float64][]float64{2: {3, 1, 2}, 1.5: {1, 2}, -2: {-1, -2, -3}, 2.5: {4, 1, 3, 2}, 7: {7}} {
		if got := Median(of); got != want {
			t.Errorf("median of %v is %g, want %g", of, got, want)
		}
	}
}
