package study

import (
	"math"
	"testing"
)

// Days of two readings in weeks of two such days are usual. A day of one reading, one of
// three, and the incomplete weeks are left out.
func TestBalanceTakesTheUsual(t *testing.T) {
	var readings []Dated
	add := func(week, day string, values ...float64) {
		for _, v := range values {
			readings = append(readings, Dated{"REF", week, day, v})
		}
	}
	add("w1", "1", 1, 3)
	add("w1", "2", 2, 2)
	add("w2", "1", 4, 6)
	add("w2", "2", 9)
	add("w2", "3", 5, 7)
	add("w3", "1", 1, 1, 1)
	add("w3", "2", 8, 8)
	checks, left := Balance(readings)
	want := []Check{{"REF", "w1", 2, math.Sqrt2, 2}, {"REF", "w1", 2, 0, 2}, {"REF", "w2", 5, math.Sqrt2, 2}, {"REF", "w2", 6, math.Sqrt2, 2}}
	if len(checks) != len(want) || left != 1+3+2 {
		t.Fatalf("%+v, %d left; want %+v, 6 left", checks, left, want)
	}
	for i, c := range checks {
		if c != want[i] {
			t.Errorf("check %d: %+v, want %+v", i, c, want[i])
		}
	}
	if _, err := NestedChecks(checks); err != nil {
		t.Error(err)
	}
	if checks, left := Balance(readings[6:7]); len(checks) != 0 || left != 1 {
		t.Errorf("one reading alone: %+v, %d left", checks, left)
	}
}
