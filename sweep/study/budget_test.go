package study

import (
	"math"
	"testing"
)

// TestBudgetOfTheGuide is example H.1 of JCGM 100:2008 (figures from memory): an end
// gauge, in nanometres, 25 (18 degrees of freedom), 9.7 (25.6), 2.9 (50) and 16.6
// (2) come to 32 with 16 degrees of freedom; its table G.2 has t(95 %, 16) = 2.12.
func TestBudgetOfTheGuide(t *testing.T) {
	got, err := Combine([]Source{{"standard", 25, 18, 1}, {"difference", 9.7, 25.6, 1}, {"expansion", 2.9, 50, 1}, {"temperature", 8.3, 2, -2}})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "combined", got.SDArcmin, 32, 0.5)
	near(t, "degrees of freedom", got.DOF, 16.7, 0.4)
	near(t, "coverage factor", got.CoverageFactor, 2.12, 0.005)
	near(t, "expanded", got.ExpandedArcmin, 2.12*got.SDArcmin, 0.2)
	near(t, "largest share in percent", got.Percent[0], 100*625/(got.SDArcmin*got.SDArcmin), 1e-9)
}

func TestBudgetOfKnownSources(t *testing.T) {
	got, err := Combine([]Source{{"a", 3, math.Inf(1), 1}, {"b", 4, math.Inf(1), 1}})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "combined", got.SDArcmin, 5, 1e-12)
	near(t, "coverage factor", got.CoverageFactor, 1.959964, 1e-6) // normal table
}

func TestBudgetRefuses(t *testing.T) {
	for name, sources := range map[string][]Source{
		"nothing":           nil,
		"all zero":          {{"a", 0, 5, 1}},
		"negative":          {{"a", -1, 5, 1}},
		"not a number":      {{"a", math.NaN(), 5, 1}},
		"no freedom":        {{"a", 1, 0, 1}},
		"sensitivity wrong": {{"a", 1, 5, math.NaN()}},
	} {
		if got, err := Combine(sources); err == nil {
			t.Errorf("%s: no error, but %+v", name, got)
		}
	}
}
