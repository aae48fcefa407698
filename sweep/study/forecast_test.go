package study

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
)

// TestForecastCoverage simulates heads and counts how often the stated intervals hold: of
// the mean and of one more reading, 45 days after the last of 90. Scatter 1 is as stated,
// 2 is twice that.
func TestForecastCoverage(t *testing.T) {
	const trials = 1000
	rng := rand.New(rand.NewPCG(20, 1))
	for _, head := range []truth{{Constant, 2, 0, 0}, {Creep, 2, -0.02, 0}, {Settling, 2, 3, 15}, {PowerLaw, -1, 0.8, 0.4}} {
		for _, scatter := range []float64{1, 2} {
			var held, next int
			for range trials {
				fit, err := FitDrift(head.proofs(rng, 40, 90, scatter), Model{Law: head.law})
				if err != nil {
					t.Fatal(err)
				}
				got := fit.Forecast(Point{Days: 135, SDArcmin: 0.15})
				if got.Mean.Holds(head.at(135)) {
					held++
				}
				if got.Next.Holds(head.at(135) + scatter*0.15*rng.NormFloat64()) {
					next++
				}
			}
			covers(t, fmt.Sprintf("%s, scatter %v, the mean", head.law, scatter), held, trials, 0.93, 0.97)
			covers(t, fmt.Sprintf("%s, scatter %v, one more", head.law, scatter), next, trials, 0.93, 0.97)
		}
	}
}

// TestLeavingCoverage: a creeping head leaves +-2' on a known day. The stated range of
// days includes it in 93 to 97 %, and misses it equally often on either side.
func TestLeavingCoverage(t *testing.T) {
	const trials = 3000
	rng := rand.New(rand.NewPCG(21, 1))
	head := truth{Creep, 0.3, 0.012, 0}
	leaves := (2 - 0.3) / 0.012
	early, late := 0, 0
	for range trials {
		fit, err := FitDrift(head.proofs(rng, 30, 90, 1), Model{Law: Creep})
		if err != nil {
			t.Fatal(err)
		}
		got, err := fit.LeavesTolerance(0, 2, 400)
		if err != nil {
			t.Fatal(err)
		}
		if !got.Earliest.Known || leaves < got.Earliest.Days {
			early++
		}
		if got.Latest.Known && leaves > got.Latest.Days {
			late++
		}
	}
	t.Logf("before the span in %d, after it in %d of %d", early, late, trials)
	covers(t, "day on which the tolerance is left", trials-early-late, trials, 0.93, 0.97)
	near(t, "misses before less misses after", float64(early), float64(late), 45)
}

// TestLeavingByHand: exactly 0.1'/day from 0', nearly certain: +-2' is left on day 20,
// downwards too; +-200' not within a year; a head already outside is outside now.
func TestLeavingByHand(t *testing.T) {
	for _, slope := range []float64{0.1, -0.1} {
		var points []Point
		for i := range 11 {
			points = append(points, Point{Days: float64(i), Arcmin: slope * float64(i), SDArcmin: 1e-6})
		}
		fit, err := FitDrift(points, Model{Law: Creep})
		if err != nil {
			t.Fatal(err)
		}
		got, err := fit.LeavesTolerance(0, 2, 365)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "day", got.Middle.Days, 20, 1e-6)
		near(t, "earliest", got.Earliest.Days, 20, 1e-3)
		near(t, "latest", got.Latest.Days, 20, 1e-3)
		if got.Above != (slope > 0) || !(got.Earliest.Days < got.Middle.Days && got.Middle.Days < got.Latest.Days) {
			t.Errorf("slope %v: %+v", slope, got)
		}
		never, err := fit.LeavesTolerance(0, 200, 365)
		if err != nil || never.Middle.Known || never.Earliest.Known || !strings.Contains(never.Say(), "stays within") {
			t.Errorf("+-200': %+v, %v: %s", never, err, never.Say())
		}
		already, err := fit.LeavesTolerance(0, 0.5, 365)
		if err != nil || already.Latest.Days != 10 || !strings.Contains(already.Say(), "already") {
			t.Errorf("+-0.5': %+v, %v: %s", already, err, already.Say())
		}
		if _, err := fit.LeavesTolerance(0, 2, 9); err == nil {
			t.Error("a horizon before the last point is none")
		}
		if _, err := fit.LeavesTolerance(0, 0, 365); err == nil {
			t.Error("a tolerance of zero is none")
		}
	}
}
