package search

import "testing"

// A wander, or one piece that is off by chance, is not taken for a head that still turns.
func TestMovingPieces(t *testing.T) {
	for _, c := range []struct {
		tilt []float64
		want int
	}{
		{[]float64{0.1, -0.5, 0.8, 1.2, 0.3, -0.4, -1.1}, 0},
		{[]float64{4, 3, 2, 1, 0, -1, -2, -3}, 0},
		{[]float64{6.2, 0.1, -0.3, 0.2, 0.1, 0}, 1},
		{[]float64{6.5, 6.2, 3.9, 0.1, -0.3, 0.2, 0.1, 0}, 3},
		{[]float64{6.2, 0.1, -0.3}, 0}, // too few pieces
	} {
		if got := movingPieces(c.tilt); got != c.want {
			t.Errorf("%v: %d pieces while the head turned, %d wanted", c.tilt, got, c.want)
		}
	}
}
