package study

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

// levelsOf reads a head that shifts by size from point at on, once a day with 0.2'.
func levelsOf(rng *rand.Rand, n, at int, size float64) []Point {
	points := make([]Point, n)
	for i := range points {
		points[i] = Point{Days: float64(i), Arcmin: 1 + 0.2*rng.NormFloat64(), SDArcmin: 0.2}
		if i >= at {
			points[i].Arcmin += size
		}
	}
	return points
}

// TestFalseShiftsOfFewPoints: a steady head with independent errors, in series of any length.
func TestFalseShiftsOfFewPoints(t *testing.T) {
	t.Parallel()
	const trials = 300
	for _, n := range []int{6, 8, 12, 20, 40} {
		wrong := counted(trials, uint64(n), func(rng *rand.Rand) bool { return len(shiftsOf(t, levelsOf(rng, n, n, 0))) > 0 })
		t.Logf("%d points: false in %s", n, percent(wrong, trials))
		if wrong > trials*3/100 {
			t.Errorf("%d points: false in %s", n, percent(wrong, trials))
		}
	}
}

// TestShiftIsFound: a shift of five standard deviations is found, alone, with its size and
// time inside their intervals; so are two.
func TestShiftIsFound(t *testing.T) {
	t.Parallel()
	const trials = 80
	rng := rand.New(rand.NewPCG(31, 1))
	alone, size, place, two := 0, 0, 0, 0
	for range trials {
		if found := shiftsOf(t, levelsOf(rng, 40, 25, 1)); len(found) == 1 {
			alone++
			if math.Abs(found[0].SizeArcmin-1) < 2*found[0].SDArcmin {
				size++
			}
			if found[0].AfterDays == 24 && found[0].BeforeDays == 25 {
				place++
				near(t, "time of the shift", found[0].Days, 24.5, 2)
			}
		}
		points := levelsOf(rng, 60, 20, 1)
		for i := 45; i < 60; i++ {
			points[i].Arcmin -= 2
		}
		found := shiftsOf(t, points)
		if len(found) == 2 && math.Abs(float64(found[0].Index-20)) <= 1 && math.Abs(float64(found[1].Index-45)) <= 1 {
			two++
		}
	}
	t.Logf("of %d: one shift found alone in %d, at its place in %d, two in %d", trials, alone, place, two)
	if alone < trials*95/100 || place < trials*85/100 || two < trials*90/100 {
		t.Errorf("found alone %d, in place %d, two %d of %d", alone, place, two, trials)
	}
	covers(t, "size of the shift", size, alone, 0.92, 0.98)
}

// TestShiftTimeIsAsUncertain: for small shifts, the error of the time is within its standard
// deviation, which holds for errors that are alike, too: here, without any, it is about half.
func TestShiftTimeIsAsUncertain(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(32, 1))
	sum, n := 0.0, 0
	for range 120 {
		// The time of the shift within the gap of a day is random too.
		if found := shiftsOf(t, levelsOf(rng, 60, 30, 0.5)); len(found) == 1 {
			sum += square((found[0].Days - 29 - rng.Float64()) / found[0].DaysSD)
			n++
		}
	}
	rms := math.Sqrt(sum / float64(n))
	t.Logf("rms of the error over its standard deviation: %.2f, %d shifts found", rms, n)
	if n < 50 || rms < 0.4 || rms > 1.2 {
		t.Errorf("%d shifts, rms %.2f", n, rms)
	}
}

// TestStrayIsNoShift: one reading off by six standard deviations, among thirty.
func TestStrayIsNoShift(t *testing.T) {
	points := levelsOf(rand.New(rand.NewPCG(34, 1)), 30, 30, 0)
	points[14].Arcmin += 6 * 0.2
	if found := shiftsOf(t, points); len(found) > 0 {
		t.Errorf("%+v", found)
	}
}

// TestShiftsByHand: two levels a hundred standard deviations apart, with a gap of ten days.
func TestShiftsByHand(t *testing.T) {
	only := Allowed{Laws: []Law{Constant}}
	var points []Point
	for i, y := range []float64{1, 1.02, 0.98, 1, 3, 3.02, 2.98, 3} {
		points = append(points, Point{Days: float64(10 * i), Arcmin: y})
	}
	found, err := Shifts(points, only)
	if err != nil || len(found) != 1 {
		t.Fatalf("%+v, %v", found, err)
	}
	got := found[0]
	near(t, "size", got.SizeArcmin, 2, 0.005)
	near(t, "time", got.Days, 35, 1e-6)
	near(t, "sd of the time", got.DaysSD, 10/math.Sqrt(12), 1e-6) // anywhere in the gap
	if got.Index != 4 || got.AfterDays != 30 || got.BeforeDays != 40 {
		t.Errorf("%+v", got)
	}
	if _, err := Shifts(points[:5], only); !errors.Is(err, ErrUndetermined) {
		t.Errorf("five points: %v", err)
	}
	if _, err := Shifts(points, Allowed{}); err == nil {
		t.Error("a shift is found though no law was named")
	}
}

// TestAcrossByHand: means 1 and 3 of three points each. Independent errors alone give a
// standard deviation of s sqrt(2/3), s^2 = 0.02/4.
func TestAcrossByHand(t *testing.T) {
	only := Allowed{Laws: []Law{Constant}}
	var points []Point
	for i, y := range []float64{0.95, 1, 1.05, 3.05, 3, 2.95} {
		points = append(points, Point{Days: float64(i), Arcmin: y, SDArcmin: 0.1})
	}
	got, err := Across(points, 3, only)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "size", got.SizeArcmin, 2, 0.02)
	if got.Before != 3 || got.After != 3 || !got.Moved() {
		t.Errorf("%+v", got)
	}
	s, err := inOrder(points)
	if err != nil {
		t.Fatal(err)
	}
	all, err := s.explanations(only, s.stepAt(3))
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range all {
		if e.white.rho[1] != 0 {
			continue
		}
		size, sd := e.last()
		near(t, "size by independent errors", size, 2, 1e-12)
		near(t, "its sd", sd*math.Sqrt(e.rss/e.dof()), math.Sqrt(0.01/4*2/3), 1e-12)
	}
	for _, event := range []float64{-1, 2, 6} {
		if _, err := Across(points, event, only); !errors.Is(err, ErrUndetermined) {
			t.Errorf("an event at day %v: %v", event, err)
		}
	}
	if _, err := Across(points, 3, Allowed{}); err == nil {
		t.Error("a step without a law that is allowed for is none")
	}
}

func ExampleStep_Say() {
	step := Step{AtDays: 3, SizeArcmin: 0.2, SDArcmin: 0.05, Interval: Interval{0.1, 0.3}, Chance: 0.001, Allowed: Allowed{Laws: []Law{Constant, Creep}}}
	fmt.Println(step.Say())
	step.Interval.LowArcmin, step.Chance = -0.1, 0.2
	fmt.Println(step.Say())
	// Output:
	// Change at day 3, with drift by any law and errors that are alike in neighbours allowed for: +0.2' (95 %: +0.1' to +0.3'): it moved the head.
	// Change at day 3, with drift by any law and errors that are alike in neighbours allowed for: +0.2' (95 %: -0.1' to +0.3'): no movement is proved.
}
