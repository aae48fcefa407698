package estimate

import "testing"

func TestMedian(t *testing.T) {
	for want, of := range map[float64][]float64{2: {3, 1, 2}, 1.5: {1, 2}, -2: {-1, -2, -3}, 2.5: {4, 1, 3, 2}, 7: {7}} {
		if got := Median(of); got != want {
			t.Errorf("median of %v is %g, want %g", of, got, want)
		}
	}
}

// A tone is turned across its top once and then back towards it. The way back has a whole
// period too many; as long as the level still rises at its end its top lies ahead, and its
// delays are not used. Once it has crossed the top they are, in the right period.
func TestAStretchThatStillRisesIsNotUsed(t *testing.T) {
	const period, perDeg = 18.0, 0.5
	level := func(x float64) float64 { return -8 - x*x/50 } // top at 0'
	for reached, want := range map[float64]bool{8: false, -12: true} {
		var ps []Point
		for deg := -36.0; deg <= 60; deg += 4 {
			x := perDeg * deg
			ps = append(ps, Point{Deg: deg, X: x, DB: level(x), ByX: level(x) > -23})
		}
		for deg := 56.0; deg*perDeg >= reached; deg -= 4 {
			x := perDeg * deg
			ps = append(ps, Point{Deg: deg, X: x + period, DB: level(x), ByX: level(x) > -23})
		}
		samePeriod(ps, period)
		last := ps[len(ps)-1]
		if last.ByX != want || want && last.X != perDeg*last.Deg {
			t.Errorf("turned back to %.0f': used %v, at %.1f' of %.1f'", reached, last.ByX, last.X, perDeg*last.Deg)
		}
	}
}
