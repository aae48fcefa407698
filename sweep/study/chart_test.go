package study

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
)

// TestConstantsAreThoseOfTables: Shewhart's tables as printed in textbooks (their E2 is
// of the rounded d2; n = 5 in part from the tables of emilopezcano/SixSigma, the other
// rows from memory of ASTM MNL 7).
func TestConstantsAreThoseOfTables(t *testing.T) {
	for _, want := range []ChartConstants{
		{2, 1.128, 0.853, 0.7979, 1.880, 2.659, 2.660, 0, 3.267, 0, 3.267},
		{3, 1.693, 0.888, 0.8862, 1.023, 1.954, 1.772, 0, 2.574, 0, 2.568},
		{5, 2.326, 0.864, 0.9400, 0.577, 1.427, 1.290, 0, 2.114, 0, 2.089},
		{10, 3.078, 0.797, 0.9727, 0.308, 0.975, 0.975, 0.223, 1.777, 0.284, 1.716},
		{25, 3.931, 0.708, 0.9896, 0.153, 0.606, 0.763, 0.459, 1.541, 0.565, 1.435},
	} {
		got, err := Constants(want.N)
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range []struct {
			name      string
			got, want float64
			digit     float64
		}{
			{"d2", got.D2, want.D2, 1e-3}, {"d3", got.D3, want.D3, 1e-3}, {"c4", got.C4, want.C4, 1e-4},
			{"A2", got.A2, want.A2, 1e-3}, {"A3", got.A3, want.A3, 1e-3}, {"E2", got.E2, want.E2, 3e-3},
			{"D3", got.LowerR, want.LowerR, 1e-3}, {"D4", got.UpperR, want.UpperR, 1e-3},
			{"B3", got.LowerS, want.LowerS, 1e-3}, {"B4", got.UpperS, want.UpperS, 1e-3},
		} {
			near(t, f.name, f.got, f.want, 0.6*f.digit)
		}
	}
	five, _ := Constants(5)
	near(t, "d2(5)", five.D2, 2.3259, 5e-5)
	near(t, "A2(5)", five.A2, 0.5768, 5e-5)
	near(t, "D4(5)", five.UpperR, 2.1145, 5e-5)
	two, _ := Constants(2)
	near(t, "d2(2)", two.D2, 2/math.Sqrt(math.Pi), 1e-12) // exact
	near(t, "d3(2)", two.D3, math.Sqrt(2-4/math.Pi), 1e-12)
	if _, err := Constants(1); err == nil {
		t.Error("a subgroup of one has constants")
	}
}

// TestRules tests for each rule its smallest case on both sides, and the case that just
// fails.
func TestRules(t *testing.T) {
	for _, test := range []struct {
		name   string
		values []float64
		rule   Rule
		points []int // nil: not found
	}{
		{"beyond three", []float64{0.1, 3.1}, BeyondThree, []int{1}},
		{"on three", []float64{0.1, 3}, BeyondThree, nil},
		{"two of three", []float64{2.1, 0, 2.2}, TwoOfThree, []int{0, 2}},
		{"two in a row", []float64{0, 2.1, 2.2}, TwoOfThree, []int{1, 2}},
		{"two, then one inside", []float64{2.1, 2.2, 0}, TwoOfThree, []int{0, 1}},
		{"two of four", []float64{2.1, 0, 0, 2.2}, TwoOfThree, nil},
		{"two on two sides", []float64{2.1, -2.2, 0}, TwoOfThree, nil},
		{"four of five", []float64{1.1, 1.2, 0, 1.3, 1.4}, FourOfFive, []int{0, 1, 3, 4}},
		{"four of six", []float64{1.1, 1.2, 0, 0, 1.3, 1.4}, FourOfFive, nil},
		{"eight", []float64{.1, .2, .1, .2, .1, .2, .1, .2}, EightInARow, []int{0, 1, 2, 3, 4, 5, 6, 7}},
		{"seven", []float64{-.1, .2, .1, .2, .1, .2, .1, .2}, EightInARow, nil},
		{"eight with one on the centre", []float64{.1, .2, .1, 0, .1, .2, .1, .2}, EightInARow, nil},
	} {
		for _, above := range []bool{true, false} {
			values := slices.Clone(test.values)
			if !above {
				for i := range values {
					values[i] = -values[i]
				}
			}
			for i := range values {
				values[i] = 10 + 0.5*values[i]
			}
			found := WesternElectric(values, 10, 0.5, test.rule)
			if test.points == nil {
				if len(found) > 0 {
					t.Errorf("%s: %+v", test.name, found)
				}
				continue
			}
			if len(found) != 1 || found[0].Rule != test.rule || found[0].Above != above || found[0].At != test.points[len(test.points)-1] || !slices.Equal(found[0].Points, test.points) {
				t.Errorf("%s, above %v: %+v, want points %v", test.name, above, found, test.points)
			}
		}
	}
	long := WesternElectric([]float64{.1, .1, .1, .1, .1, .1, .1, .1, .1, .1}, 0, 1)
	if len(long) != 3 || long[2].At != 9 {
		t.Errorf("ten in a row: %+v", long)
	}
	if said := long[0].Say(); said != "point 8: eight points in a row on one side, above the centre" {
		t.Error(said)
	}
}

// runLength is the mean number of points to the first finding, in control, and its
// standard error.
func runLength(rng *rand.Rand, series int, which ...Rule) (average, sd float64) {
	completed := func(values []float64) bool {
		return slices.ContainsFunc(which, func(rule Rule) bool {
			return complete(values, len(values)-1, 0, 1, rule, true) != nil || complete(values, len(values)-1, 0, 1, rule, false) != nil
		})
	}
	lengths := make([]float64, series)
	for i := range lengths {
		var values []float64
		for !completed(values) {
			values = append(values, rng.NormFloat64())
		}
		lengths[i] = float64(len(values))
	}
	return mean(lengths), SpreadOf(lengths).SDArcmin / math.Sqrt(float64(series))
}

// TestRunLengths: all four rules together 91.75 points in control, the first with each of
// the others 225.44, 166.05, 152.73 (Champ and Woodall 1987, the latter three from
// memory). Exact: the first alone 1/P(|z| > 3) = 370.4; eight in a row on one side, as
// for a coin, 2^8 - 1 = 255.
func TestRunLengths(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 1))
	for _, test := range []struct {
		which []Rule
		want  float64
	}{
		{AllRules, 91.75},
		{[]Rule{BeyondThree}, 1 / math.Erfc(3/math.Sqrt2)},
		{[]Rule{EightInARow}, 255},
		{[]Rule{BeyondThree, TwoOfThree}, 225.44},
		{[]Rule{BeyondThree, FourOfFive}, 166.05},
		{[]Rule{BeyondThree, EightInARow}, 152.73},
	} {
		got, sd := runLength(rng, 20000, test.which...)
		t.Logf("rules %-10v %7.2f +- %.2f, published %.2f", fmt.Sprintf("%d", test.which), got, sd, test.want)
		near(t, "run length", got, test.want, 3*sd)
	}
}

// TestIndividualsOfTheHandbook: e-Handbook 6.3.2.2 (figures from memory), flow rates
// 49.6 to 51.4: mean 50.81, mean moving range 1.8778, limits 55.8041 and 45.8159.
func TestIndividualsOfTheHandbook(t *testing.T) {
	values := []float64{49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1}
	single, moving, err := Individuals(values, Baseline{})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "centre", single.CenterArcmin, 50.81, 1e-9)
	near(t, "mean range", moving.CenterArcmin, 1.8778, 5e-5)
	near(t, "upper limit", single.UpperArcmin, 55.8041, 2e-3) // d2 cut to 1.128 there
	near(t, "lower limit", single.LowerArcmin, 45.8159, 2e-3)
	near(t, "upper limit of ranges", moving.UpperArcmin, 3.267*1.8778, 1e-3)
	if len(moving.Points) != 9 || moving.LowerArcmin != 0 {
		t.Errorf("ranges %v from %v", moving.Points, moving.LowerArcmin)
	}
	if !single.Provisional || !strings.Contains(single.Say(), "provisional") {
		t.Errorf("ten points are enough: %s", single.Say())
	}
}

// TestChartOfMeans by hand: groups of two with means 1, 2, 3 and ranges 2, 4, 3.
func TestChartOfMeans(t *testing.T) {
	groups := [][]float64{{0, 2}, {4, 0}, {1.5, 4.5}}
	means, ranges, err := XbarR(groups, Baseline{})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "centre", means.CenterArcmin, 2, 1e-12)
	near(t, "upper limit", means.UpperArcmin, 2+1.880*3, 1e-2) // A2(2) of the table
	near(t, "upper limit of ranges", ranges.UpperArcmin, 3.267*3, 1e-2)
	near(t, "centre of ranges", ranges.CenterArcmin, 3, 1e-12)
}

func TestBaselines(t *testing.T) {
	var values []float64
	for i := range 30 {
		values = append(values, float64(i%2))
	}
	values = append(values, 9)
	first, _, err := Individuals(values, Baseline{First: 20})
	if err != nil {
		t.Fatal(err)
	}
	if first.CenterArcmin != 0.5 || first.Provisional || len(first.Findings) == 0 || first.Findings[0].At != 30 {
		t.Errorf("by the first twenty: %+v", first)
	}
	if few, _, _ := Individuals(values, Baseline{First: 19}); !few.Provisional {
		t.Error("limits of nineteen points are not provisional")
	}
	given, moving, err := Individuals(values[:3], Baseline{Given: true, CenterArcmin: 2, SigmaArcmin: 0.5})
	if err != nil {
		t.Fatal(err)
	}
	if given.Provisional || given.UpperArcmin != 3.5 || len(given.Findings) == 0 {
		t.Errorf("given: %+v", given)
	}
	near(t, "centre of ranges by the given sigma", moving.CenterArcmin, 0.5*1.128, 1e-3)
	for name, bad := range map[string]struct {
		values []float64
		from   Baseline
	}{
		"all alike":          {[]float64{1, 1, 1}, Baseline{}},
		"one value":          {[]float64{1}, Baseline{}},
		"not a number":       {[]float64{1, math.NaN(), 2}, Baseline{}},
		"more than there is": {[]float64{1, 2, 3}, Baseline{First: 4}},
		"a sigma of nothing": {[]float64{1, 2, 3}, Baseline{Given: true}},
	} {
		if got, _, err := Individuals(bad.values, bad.from); err == nil {
			t.Errorf("%s: no error, but %+v", name, got)
		}
	}
	if _, _, err := XbarR([][]float64{{1, 2}, {1, 2, 3}}, Baseline{}); err == nil {
		t.Error("groups of unequal size make a chart")
	}
	if _, _, err := XbarR([][]float64{{}, {}}, Baseline{}); err == nil {
		t.Error("empty groups make a chart")
	}
	if _, _, err := XbarR([][]float64{{1}, {2}}, Baseline{}); err == nil {
		t.Error("groups of one make a chart of ranges")
	}
}

// TestAlarmsOfAChart: with exact limits by the run lengths of the four rules, whose mean is
// 91.75 points (Champ and Woodall 1987), so that about 1 - exp(-50/91.75) = 0.42 break within
// 50; with limits from 20 points more often, from 1000 points nearly as often.
func TestAlarmsOfAChart(t *testing.T) {
	near(t, "exact limits", alarmsOf(0, 1, within).Probability, 1-math.Exp(-within/91.75), 0.03)
	near(t, "limits from 20 points", alarmsOf(20, 1, within).Probability, 0.59, 0.03)
	near(t, "limits from 1000 points", alarmsOf(1000, 1, within).Probability, 0.42, 0.03)
	near(t, "limits from 25 groups of 4", alarmsOf(25, 4, within).Probability, 0.55, 0.08)
	values := make([]float64, 40)
	rng := rand.New(rand.NewPCG(9, 9))
	for i := range values {
		values[i] = rng.NormFloat64()
	}
	for _, from := range []Baseline{{}, {First: 20}, {Given: true, SigmaArcmin: 1}} {
		single, _, err := Individuals(values, from)
		if err != nil {
			t.Fatal(err)
		}
		if a := single.Alarms; a.Probability < 0.2 || a.Probability > 0.7 || !strings.Contains(a.Say(), fmt.Sprintf("%.0f %%", 100*a.Probability)) {
			t.Errorf("%+v: %+v, %s", from, a, a.Say())
		}
	}
}
