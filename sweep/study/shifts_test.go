package study

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

// levelsOf reads a head that shifts by size from point at on, once a day with 0.2'.
func levelsOf(rng *rand.Rand, n, at int, size, scatter float64, stated bool) []Point {
	points := make([]Point, n)
	for i := range points {
		points[i] = Point{Days: float64(i), Arcmin: 1 + scatter*0.2*rng.NormFloat64()}
		if i >= at {
			points[i].Arcmin += size
		}
		if stated {
			points[i].SDArcmin = 0.2
		}
	}
	return points
}

// TestFalseShifts measures how often a steady head is reported as shifted. The penalty is
// meant for a few in a hundred. Without stated standard deviations the scale is itself
// uncertain, and short series give more false alarms.
func TestFalseShifts(t *testing.T) {
	const trials = 3000
	rng := rand.New(rand.NewPCG(30, 1))
	for _, test := range []struct {
		n       int
		scatter float64
		stated  bool
		most    float64 // percent
	}{{20, 1, true, 2}, {50, 1, true, 2}, {200, 1, true, 2}, {50, 2, true, 6}, {20, 1, false, 12}, {50, 1, false, 6}, {200, 1, false, 3}} {
		wrong := 0
		for range trials {
			found, err := Shifts(levelsOf(rng, test.n, test.n, 0, test.scatter, test.stated))
			if err != nil {
				t.Fatal(err)
			}
			if len(found) > 0 {
				wrong++
			}
		}
		percent := 100 * float64(wrong) / trials
		t.Logf("%3d points, scatter %v, stated %-5v: false alarm in %.1f %%", test.n, test.scatter, test.stated, percent)
		if percent > test.most || wrong == 0 {
			t.Errorf("%d points, scatter %v, stated %v: false alarm in %.2f %%", test.n, test.scatter, test.stated, percent)
		}
	}
}

// TestShiftIsFound: a shift of five standard deviations is found, alone, with its size
// and time inside their intervals.
func TestShiftIsFound(t *testing.T) {
	const trials = 1000
	rng := rand.New(rand.NewPCG(31, 1))
	alone, size, place, two := 0, 0, 0, 0
	for range trials {
		found, err := Shifts(levelsOf(rng, 40, 25, 1, 1, true))
		if err != nil {
			t.Fatal(err)
		}
		if len(found) != 1 {
			continue
		}
		alone++
		if math.Abs(found[0].SizeArcmin-1) < 1.96*found[0].SDArcmin {
			size++
		}
		if found[0].AfterDays == 24 && found[0].BeforeDays == 25 {
			place++
			near(t, "time of the shift", found[0].Days, 24.5, 2)
		}
		points := levelsOf(rng, 60, 20, 1, 1, true)
		for i := 45; i < 60; i++ {
			points[i].Arcmin -= 2
		}
		if found, err = Shifts(points); err != nil {
			t.Fatal(err)
		}
		if len(found) == 2 && math.Abs(float64(found[0].Index-20)) <= 1 && math.Abs(float64(found[1].Index-45)) <= 1 {
			two++
		}
	}
	t.Logf("of %d: one shift found alone in %d, at its place in %d, two in %d", trials, alone, place, two)
	if alone < 960 || place < 900 || two < 900 {
		t.Errorf("found alone %d, in place %d, two %d of %d", alone, place, two, trials)
	}
	covers(t, "size of the shift", size, alone, 0.93, 0.97)
}

// TestShiftTimeIsAsUncertain: for small shifts, the error of the time matches its
// standard deviation: the mean square of the ratio is roughly one.
func TestShiftTimeIsAsUncertain(t *testing.T) {
	rng := rand.New(rand.NewPCG(32, 1))
	sum, n := 0.0, 0
	for range 1500 {
		// The time of the shift within the gap of a day is random too.
		found, err := Shifts(levelsOf(rng, 60, 30, 0.3, 1, true))
		if err != nil {
			t.Fatal(err)
		}
		if len(found) == 1 {
			sum += square((found[0].Days - 29 - rng.Float64()) / found[0].DaysSD)
			n++
		}
	}
	t.Logf("rms of the error over its standard deviation: %.2f, %d shifts found", math.Sqrt(sum/float64(n)), n)
	if rms := math.Sqrt(sum / float64(n)); n < 500 || rms < 0.7 || rms > 1.4 {
		t.Errorf("%d shifts, rms %.2f", n, rms)
	}
}

// TestStrayIsNoShift: one reading off by six standard deviations, among thirty.
func TestStrayIsNoShift(t *testing.T) {
	points := levelsOf(rand.New(rand.NewPCG(34, 1)), 30, 30, 0, 0.5, true)
	points[14].Arcmin += 6 * 0.2
	if found, err := Shifts(points); err != nil || len(found) > 0 {
		t.Errorf("%+v, %v", found, err)
	}
}

func TestShiftsByHand(t *testing.T) {
	var points []Point
	for i, y := range []float64{1, 1.05, 0.95, 1, 3, 3.05, 2.95, 3} {
		points = append(points, Point{Days: float64(10 * i), Arcmin: y, SDArcmin: 0.1})
	}
	found, err := Shifts(points)
	if err != nil || len(found) != 1 {
		t.Fatalf("%+v, %v", found, err)
	}
	got := found[0]
	near(t, "size", got.SizeArcmin, 2, 1e-12)
	near(t, "sd", got.SDArcmin, 0.1*math.Sqrt(2./4), 1e-12)
	near(t, "time", got.Days, 35, 1e-6)
	near(t, "sd of the time", got.DaysSD, 10/math.Sqrt(12), 1e-6) // anywhere in the gap
	if got.Index != 4 || got.AfterDays != 30 || got.BeforeDays != 40 {
		t.Errorf("%+v", got)
	}
	if _, err := Shifts(points[:5]); !errors.Is(err, ErrUndetermined) {
		t.Errorf("five points: %v", err)
	}
	same := make([]Point, 10)
	if _, err := Shifts(same); !errors.Is(err, ErrUndetermined) {
		t.Errorf("points without scatter or standard deviation: %v", err)
	}
}

// TestShiftTimeByHand: a reading half way between two levels may belong to either. One
// day is before it and ten after, so the odds of the two gaps are 1 : 10, and the mean
// time is day (2.5 + 10 x 8)/11 = 7.5.
func TestShiftTimeByHand(t *testing.T) {
	var points []Point
	for i, days := range []float64{0, 1, 2, 3, 13, 14, 15} {
		points = append(points, Point{Days: days, Arcmin: []float64{0, 0, 0, 0.5, 1, 1, 1}[i], SDArcmin: 0.05})
	}
	found, err := Shifts(points)
	if err != nil || len(found) != 1 {
		t.Fatalf("%+v, %v", found, err)
	}
	near(t, "time", found[0].Days, 7.5, 1e-6)
}

// TestAcrossByHand: means 1 and 3 of two points each, sd 0.1.
func TestAcrossByHand(t *testing.T) {
	points := []Point{{0, 0.95, 0.1, nil, nil}, {1, 1.05, 0.1, nil, nil}, {2, 3.05, 0.1, nil, nil}, {3, 2.95, 0.1, nil, nil}}
	got, err := Across(points, 2, false)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "size", got.SizeArcmin, 2, 1e-12)
	near(t, "sd", got.SDArcmin, 0.1, 1e-12)
	if got.Before != 2 || got.After != 2 {
		t.Errorf("%+v", got)
	}
	for _, event := range []float64{-1, 4} {
		if _, err := Across(points, event, false); !errors.Is(err, ErrUndetermined) {
			t.Errorf("an event at day %v: %v", event, err)
		}
	}
}

// TestAcrossCoverage: a step on a trend, read at uneven times. With a fitted trend its
// interval holds; without it does not.
func TestAcrossCoverage(t *testing.T) {
	const trials = 3000
	rng := rand.New(rand.NewPCG(33, 1))
	for _, trend := range []bool{true, false} {
		held := 0
		for range trials {
			points := truth{Creep, 1, 0.02, 0}.proofs(rng, 20, 60, 1)
			for i := range points {
				if points[i].Days >= 30 {
					points[i].Arcmin += 0.4
				}
			}
			got, err := Across(points, 30, trend)
			if err != nil {
				t.Fatal(err)
			}
			if got.Interval.Holds(0.4) {
				held++
			}
		}
		if trend {
			covers(t, "step at an event, trend allowed for", held, trials, 0.93, 0.97)
		} else if share := float64(held) / trials; share > 0.5 {
			t.Errorf("without the trend the interval holds in %.0f %%: the check is too weak", 100*share)
		}
	}
}

func ExampleStep_Say() {
	step := Step{AtDays: 3, SizeArcmin: 0.2, SDArcmin: 0.05, Interval: Interval{0.1, 0.3}}
	fmt.Println(step.Say())
	step.Interval.LowArcmin = -0.1
	fmt.Println(step.Say())
	// Output:
	// Change at day 3: +0.2' +- 0.05' (+0.1' to +0.3' with 95 %): it moved the head.
	// Change at day 3: +0.2' +- 0.05' (-0.1' to +0.3' with 95 %): no movement is proved.
}
