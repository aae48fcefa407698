package dsp

import (
	"math"
	"slices"
	"testing"
)

// A stretch's sums against their definitions; the bends are the second differences within
// it.
func TestStretchIsWhatItsSumsSay(t *testing.T) {
	x, y := white(random(1), 512, 0.1), white(random(2), 512, 0.2)
	s := look(x, y, stretch{})
	for c, z := range [2][]float64{x, y} {
		var sum, squares, peak, bends, sharpest float64
		for i, v := range z {
			sum, squares, peak = sum+v, squares+v*v, max(peak, math.Abs(v))
			if i >= 2 {
				bend := math.Pow(z[i]-2*z[i-1]+z[i-2], 2)
				bends, sharpest = bends+bend, max(sharpest, bend)
			}
		}
		close(t, "sum", s.sum[c], sum, 1e-12)
		close(t, "squares", s.squares[c], squares, 1e-12)
		close(t, "peak", s.peak[c], peak, 0)
		close(t, "bends", s.bendSquares[c], bends, 1e-11)
		close(t, "sharpest bend", s.bendPeak[c], sharpest, 1e-14)
	}
}

// A fall is measured from the median of the recent levels: here from the middle of the
// sorted ones, in decibels.
func TestDropoutsGoByTheMedian(t *testing.T) {
	r := random(3)
	for _, tone := range []bool{true, false} {
		var d dropouts
		var history [2][]float64
		fallen := 0
		for range 3000 {
			var power, fall [2]float64
			for c := range power {
				level := 6 * r.NormFloat64()
				if n := len(history[c]); n >= 5 {
					sorted := slices.Sorted(slices.Values(history[c][max(0, n-recent):]))
					fall[c] = sorted[len(sorted)/2] - level
				}
				history[c] = append(history[c], level)
				power[c] = math.Pow(10, level/10)
			}
			want := max(fall[0], fall[1]) > 10 && (tone || min(fall[0], fall[1]) < 5)
			if got := d.fell(power, tone); got != want {
				t.Fatalf("tone %v, frame %d: %v for falls of %.2f and %.2f dB", tone, len(history[0]), got, fall[0], fall[1])
			}
			if want {
				fallen++
			}
		}
		if fallen < 100 {
			t.Errorf("tone %v: only %d falls", tone, fallen)
		}
	}
}
