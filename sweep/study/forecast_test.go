package study

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
)

// TestForecastsHold: the interval of the change from the first point holds at 1.25, 2 and 3
// spans, under each law and over all of them, and is not much wider than that of a fit that is
// told the law.
func TestForecastsHold(t *testing.T) {
	t.Parallel()
	trials, noises := fullTrials, noises[:2]
	if testing.Short() {
		trials = 50
	}
	for _, n := range noises {
		for _, spans := range []float64{1.25, 2, 3} {
			held, told := map[Law]int{}, map[Law]int{}
			var widths []float64
			for i, h := range heads {
				rng := rand.New(rand.NewPCG(uint64(100*i), uint64(100*spans)))
				for range trials / 2 {
					points := h.month(rng, n, 0, 0)
					o := outlookOf(t, points, Everything(points))
					at := spans * o.LastDays
					if at > o.FarthestDays {
						continue
					}
					told[h.law]++
					got := o.Change(at).Interval
					if got.LowArcmin <= h.at(at)-h.at(0)+1e-9 && got.HighArcmin >= h.at(at)-h.at(0)-1e-9 {
						held[h.law]++
					}
					if own := outlookOf(t, points, Allowed{Laws: []Law{h.law}}).Change(at).Interval; h.law != Constant {
						widths = append(widths, (got.HighArcmin-got.LowArcmin)/(own.HighArcmin-own.LowArcmin))
					}
				}
			}
			all, allTold := 0, 0
			for _, law := range []Law{Constant, Creep, Settling, PowerLaw} {
				all, allTold = all+held[law], allTold+told[law]
				t.Logf("%s, %.2f spans, %v: holds in %s", n.name, spans, law, percent(held[law], told[law]))
				if low, high := exact(held[law], told[law]); testing.Short() && high < 0.9 || !testing.Short() && low < 0.9 {
					t.Errorf("%s, %.2f spans, %v: holds in %s", n.name, spans, law, percent(held[law], told[law]))
				}
			}
			slices.Sort(widths)
			wide := widths[len(widths)/2]
			said := fmt.Sprintf("%s, %.2f spans: holds in %s, median width %.2f of the true law's", n.name, spans, percent(all, allTold), wide)
			t.Log(said)
			if low, high := exact(all, allTold); wide > 2 || low > 0.975 || high < 0.93 {
				t.Error(said)
			}
		}
	}
}

func outlookOf(t *testing.T, points []Point, allowed Allowed) Outlook {
	o, err := Foresee(points, allowed)
	if err != nil {
		t.Fatal(err)
	}
	return o
}

// TestForecastsEnd: none reaches beyond three spans; a head that settles in sixty days gives
// none beyond one and a half from twenty-one.
func TestForecastsEnd(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(21, 1))
	minutes := make([]Point, 7)
	for i := range minutes {
		minutes[i] = Point{Days: float64(i) / 24 / 60, Arcmin: rng.NormFloat64(), SDArcmin: 0.2}
	}
	o := outlookOf(t, minutes, Everything(minutes))
	near(t, "three spans of six minutes", o.FarthestDays, 18./24/60, 1e-12)
	l, err := o.LeavesTolerance(nil, 1e3, 365)
	if err != nil || l.UntilDays != o.FarthestDays || !strings.Contains(l.Say(), "forecast ends") {
		t.Errorf("%+v, %v: %s", l, err, l.Say())
	}

	slow := truth{Settling, 0, 8, 60}.month(rng, noise{}, 0, 0)
	if o := outlookOf(t, slow, Allowed{Laws: []Law{Settling}}); o.FarthestDays > unsettledSpans*o.LastDays || !strings.Contains(o.Why, "time constant") {
		t.Errorf("until day %.1f: %s", o.FarthestDays, o.Why)
	}
	quick := truth{Settling, 0, 3, 4}.month(rng, noise{}, 0, 0)
	if o := outlookOf(t, quick, Everything(quick)); o.FarthestDays < 2.9*o.LastDays {
		t.Errorf("until day %.1f: %s", o.FarthestDays, o.Why)
	}
	if _, err := Foresee(minutes[:5], Everything(minutes)); !errors.Is(err, ErrUndetermined) {
		t.Errorf("five points: %v", err)
	}
}

// TestLeavingCoverage: a creeping head leaves +-2' on a known day. The stated range of days
// includes it.
func TestLeavingCoverage(t *testing.T) {
	t.Parallel()
	const trials = 120
	head := truth{Creep, 0.3, 0.02, 0}
	held := counted(trials, 21, func(rng *rand.Rand) bool {
		o, err := Foresee(head.proofs(rng, 60, 60, 1), Allowed{Laws: []Law{Constant, Creep}})
		if err != nil {
			t.Error(err)
			return false
		}
		reference := 0.3
		got, err := o.LeavesTolerance(&reference, 2, 170)
		if err != nil {
			t.Error(err)
			return false
		}
		return got.Earliest.Known && got.Earliest.Days <= 100 && (!got.Latest.Known || got.Latest.Days >= 100)
	})
	covers(t, "day on which the tolerance is left", held, trials, 0.92, 0.99)
}

// TestLeavingByHand: exactly 0.1'/day from 0', nearly certain: +-2' is left on day 20,
// downwards too; +-200' not; a head already outside is outside now.
func TestLeavingByHand(t *testing.T) {
	for _, slope := range []float64{0.1, -0.1} {
		var points []Point
		for i := range 11 {
			points = append(points, Point{Days: float64(i), Arcmin: slope*float64(i) + 1e-7*float64(i%2)})
		}
		o := outlookOf(t, points, Allowed{Laws: []Law{Creep}})
		got, err := o.LeavesTolerance(nil, 2, 29)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "day", got.Middle.Days, 20, 1e-4)
		near(t, "earliest", got.Earliest.Days, 20, 1e-3)
		near(t, "latest", got.Latest.Days, 20, 1e-3)
		if got.Above != (slope > 0) || !(got.Earliest.Days < got.Middle.Days && got.Middle.Days < got.Latest.Days) {
			t.Errorf("slope %v: %+v", slope, got)
		}
		never, err := o.LeavesTolerance(nil, 200, 29)
		if err != nil || never.Middle.Known || never.Earliest.Known || !strings.Contains(never.Say(), "stays within") {
			t.Errorf("+-200': %+v, %v: %s", never, err, never.Say())
		}
		already, err := o.LeavesTolerance(nil, 0.5, 29)
		if err != nil || already.Latest.Days != 10 || !strings.Contains(already.Say(), "already") {
			t.Errorf("+-0.5': %+v, %v: %s", already, err, already.Say())
		}
		if _, err := o.LeavesTolerance(nil, 2, 9); err == nil {
			t.Error("a horizon before the last point is none")
		}
		if _, err := o.LeavesTolerance(nil, 0, 365); err == nil {
			t.Error("a tolerance of zero is none")
		}
	}
}
