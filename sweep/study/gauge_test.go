package study

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

// TestCrossedByHand: two units, two operators, two repeats, worked out by hand:
// means 2, 4; 6, 12 (cells), units 3 and 9, operators 4 and 8, grand mean 6.
func TestCrossedByHand(t *testing.T) {
	var all []Measurement
	for _, c := range []struct {
		unit, operator string
		mean           float64
	}{{"a", "x", 2}, {"a", "y", 4}, {"b", "x", 6}, {"b", "y", 12}} {
		all = append(all, Measurement{Unit: c.unit, Operator: c.operator, Arcmin: c.mean - 1}, Measurement{Unit: c.unit, Operator: c.operator, Arcmin: c.mean + 1})
	}
	got, err := Crossed(all, KeepInteraction)
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []Row{{DF: 1, SS: 72}, {DF: 1, SS: 32}, {DF: 1, SS: 8}, {DF: 4, SS: 8}} {
		if got.Table[i].DF != want.DF {
			t.Errorf("%s: %d degrees of freedom, want %d", got.Table[i].Source, got.Table[i].DF, want.DF)
		}
		near(t, got.Table[i].Source, got.Table[i].SS, want.SS, 1e-12)
	}
	near(t, "EV^2", got.Repeatability.VarianceArcmin2, 2, 1e-12)
	near(t, "AV^2", got.Reproducibility.VarianceArcmin2, (32.-8)/4, 1e-12)
	near(t, "INT^2", got.Interaction.VarianceArcmin2, (8.-2)/2, 1e-12)
	near(t, "PV^2", got.Parts.VarianceArcmin2, (72.-8)/4, 1e-12)
	near(t, "GRR^2", got.GaugeRR.VarianceArcmin2, 2+6+3, 1e-12)
	if got.Categories != 1 { // 1.41 x 4 / sqrt 11 = 1.70
		t.Errorf("%d categories, want 1", got.Categories)
	}
	pooled, err := Crossed(all, PoolInteraction)
	if err != nil {
		t.Fatal(err)
	}
	if !pooled.Pooled || len(pooled.Table) != 3 {
		t.Fatalf("not pooled: %+v", pooled)
	}
	near(t, "pooled EV^2", pooled.Repeatability.VarianceArcmin2, 16./5, 1e-12)
	near(t, "pooled AV^2", pooled.Reproducibility.VarianceArcmin2, (32-3.2)/4, 1e-12)
	near(t, "pooled PV^2", pooled.Parts.VarianceArcmin2, (72-3.2)/4, 1e-12)
}

// TestPoolingFollowsItsTest: P above or below 0.25 decides, and both occur.
func TestPoolingFollowsItsTest(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 4))
	seen := map[bool]int{}
	for range 40 {
		all := gaugeStudy(rng, spreads{3, 1, 0.3, 1}, 8, 3, 2)
		kept, err := Crossed(all, KeepInteraction)
		if err != nil {
			t.Fatal(err)
		}
		byTest, err := Crossed(all, PoolByTest)
		if err != nil {
			t.Fatal(err)
		}
		if want := kept.Table[2].P > 0.25; byTest.Pooled != want {
			t.Errorf("pooled %v with P %.3f", byTest.Pooled, kept.Table[2].P)
		}
		seen[byTest.Pooled]++
	}
	if seen[true] < 5 || seen[false] < 5 {
		t.Errorf("the studies do not try both: %v", seen)
	}
}

func TestTruncationIsSaid(t *testing.T) {
	// Operators agree more closely than expected from their repeats.
	all := []Measurement{{"a", "x", "", 1}, {"a", "x", "", 3}, {"a", "y", "", 1}, {"a", "y", "", 3}, {"b", "x", "", 5}, {"b", "x", "", 7}, {"b", "y", "", 5}, {"b", "y", "", 7}}
	got, err := Crossed(all, PoolInteraction)
	if err != nil {
		t.Fatal(err)
	}
	if !got.Reproducibility.Truncated || got.Reproducibility.SDArcmin != 0 || got.Repeatability.Truncated {
		t.Errorf("operators %+v, repeats %+v", got.Reproducibility, got.Repeatability)
	}
}

func TestGaugeStudiesRefuse(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	whole := gaugeStudy(rng, spreads{3, 1, 0.3, 1}, 3, 2, 2)
	bad := append([]Measurement(nil), whole...)
	bad[4].Arcmin = math.NaN()
	same := append([]Measurement(nil), whole...)
	for i := range same {
		same[i].Arcmin = 1.5
	}
	for _, test := range []struct {
		name string
		all  []Measurement
		says string
	}{
		{"a repeat missing", whole[1:], "balanced"},
		{"a cell missing", whole[2:], "nothing was measured"},
		{"one unit", whole[:4], "units"},
		{"one operator", gaugeStudy(rng, spreads{3, 1, 0, 1}, 3, 1, 2), "operators"},
		{"one repeat", gaugeStudy(rng, spreads{3, 1, 0, 1}, 3, 2, 1), "repeats"},
		{"nothing", nil, "units"},
		{"not a number", bad, "NaN"},
		{"all alike", same, "nothing varies"},
	} {
		if _, err := Crossed(test.all, PoolByTest); err == nil || !strings.Contains(err.Error(), test.says) {
			t.Errorf("%s: %v, want a word of %q", test.name, err, test.says)
		}
	}
	nested := seatingStudy(rng, 1, 1, 1, 3, 3, 2)
	for _, test := range []struct {
		name string
		all  []Measurement
		says string
	}{
		{"a repeat missing", nested[1:], "balanced"},
		{"a seating missing", nested[2:], "balanced"},
		{"one unit", nested[:6], "units"},
		{"one seating", seatingStudy(rng, 1, 1, 1, 3, 1, 2), "reseatings"},
		{"one repeat", seatingStudy(rng, 1, 1, 1, 3, 2, 1), "repeats"},
	} {
		if _, err := Nested(test.all); err == nil || !strings.Contains(err.Error(), test.says) {
			t.Errorf("nested, %s: %v, want a word of %q", test.name, err, test.says)
		}
	}
}

// TestGaugeCoverage simulates studies with known spreads and counts how often the stated
// intervals include the true value. The interval of the repeatability is exact; the
// others are approximate, with 93 to 97 % allowed. The mean variances are the true ones,
// for all sizes of the study.
func TestGaugeCoverage(t *testing.T) {
	const trials = 4000
	rng := rand.New(rand.NewPCG(61, 1))
	var ev, av, inter, grr, pv, repeat, seat, both, parts tally
	for range trials {
		g, err := Crossed(gaugeStudy(rng, spreads{part: 3, operator: 0.8, interaction: 0.6, repeat: 0.7}, 10, 4, 3), KeepInteraction)
		if err != nil {
			t.Fatal(err)
		}
		ev.count(g.Repeatability, 0.49)
		av.count(g.Reproducibility, 0.64)
		inter.count(g.Interaction, 0.36)
		grr.count(g.GaugeRR, 0.64+0.36+0.49)
		pv.count(g.Parts, 9)
		n, err := Nested(seatingStudy(rng, 1.2, 0.8, 0.7, 8, 4, 3))
		if err != nil {
			t.Fatal(err)
		}
		repeat.count(n.Repeat, 0.49)
		seat.count(n.Seating, 0.64)
		both.count(n.GaugeRR, 0.64+0.49)
		parts.count(n.Parts, 1.44)
	}
	ev.check(t, "repeatability, 10 units x 4 operators x 3", 0.95, 0.95)
	av.check(t, "reproducibility, the same", 0.93, 0.97)
	inter.check(t, "interaction, the same", 0.93, 0.97)
	grr.check(t, "gauge R&R, the same", 0.93, 0.97)
	pv.check(t, "between units, the same", 0.93, 0.97)
	repeat.check(t, "repeatability, 8 units x 4 seatings x 3", 0.95, 0.95)
	seat.check(t, "seating, the same", 0.93, 0.97)
	both.check(t, "one reading after one seating, the same", 0.93, 0.97)
	parts.check(t, "between units, the same as last", 0.93, 0.97)
}

// TestTwoOperatorsStayInside: two operators who measure every unit, with several seatings by
// each. They differ by themselves and with the unit; the interval of the units holds.
func TestTwoOperatorsStayInside(t *testing.T) {
	const trials, units, operators, reseatings, repeats = 3000, 8, 2, 3, 2
	rng := rand.New(rand.NewPCG(62, 1))
	var seat, inter, both, parts, own tally
	for range trials {
		var all []Measurement
		by := [operators]float64{0.8 * rng.NormFloat64(), 0.8 * rng.NormFloat64()}
		for u := range units {
			unit := 1.2 * rng.NormFloat64()
			for o := range operators {
				cell := unit + by[o] + 0.4*rng.NormFloat64()
				for s := range reseatings {
					seating := cell + 0.6*rng.NormFloat64()
					for range repeats {
						all = append(all, Measurement{Unit: fmt.Sprint(u), Operator: fmt.Sprint(o), Reseating: fmt.Sprint(s), Arcmin: seating + 0.5*rng.NormFloat64()})
					}
				}
			}
		}
		rng.Shuffle(len(all), func(i, j int) { all[i], all[j] = all[j], all[i] }) // a plan is in random order
		n, err := Nested(all)
		if err != nil {
			t.Fatal(err)
		}
		seat.count(n.Seating, 0.36)
		inter.count(n.Interaction, 0.16)
		own.count(n.Operator, 0.64)
		both.count(n.GaugeRR, 0.64+0.16+0.36+0.25)
		parts.count(n.Parts, 1.44)
	}
	seat.check(t, "seating, 8 units x 2 operators x 3 x 2", 0.93, 0.97)
	inter.check(t, "operators by units, the same", 0.93, 0.97)
	parts.check(t, "between units, the same", 0.93, 0.97)
	covers(t, "operators, the same", own.held, trials-own.none, 0.93, 0.98)
	covers(t, "one reading, the same", both.held, trials-both.none, 0.93, 0.97)
	if n := own.none; n == 0 {
		t.Error("two operators who hardly differ never leave their interval open")
	}
}

// tally counts how often intervals included the true value, and collects the estimates.
type tally struct {
	held      int
	none      int // how often there was no interval
	variance  float64
	estimates []float64
}

func (y *tally) count(c Component, variance float64) {
	y.variance = variance
	y.estimates = append(y.estimates, c.VarianceArcmin2)
	switch {
	case !c.HasInterval:
		y.none++
	case c.Interval.Holds(math.Sqrt(variance)):
		y.held++
	}
}

func (y *tally) check(t *testing.T, what string, low, high float64) {
	t.Helper()
	covers(t, what, y.held, len(y.estimates)-y.none, low, high)
	deviation := SpreadOf(y.estimates).SDArcmin / math.Sqrt(float64(len(y.estimates)))
	near(t, what+": mean variance", mean(y.estimates), y.variance, 4*deviation)
}

// TestDifferenceIntervalIsZeroWhereItsTestIs: by construction the limits for a difference
// are zero exactly if the ratio of the mean squares is a quantile of F.
func TestDifferenceIntervalIsZeroWhereItsTestIs(t *testing.T) {
	for _, d := range [][2]int{{2, 18}, {9, 18}, {30, 4}} {
		f := distuv.F{D1: float64(d[0]), D2: float64(d[1])}
		low, _ := differenceInterval(1, Row{DF: d[0], MS: 2 * f.Quantile(0.975)}, Row{DF: d[1], MS: 2})
		_, high := differenceInterval(1, Row{DF: d[0], MS: 2 * f.Quantile(0.025)}, Row{DF: d[1], MS: 2})
		near(t, "lower limit", low, 0, 1e-6)
		near(t, "upper limit", high, 0, 1e-6)
	}
}

func TestDesign(t *testing.T) {
	trials, err := Design(4, 2, 2, 3, 7)
	if err != nil {
		t.Fatal(err)
	}
	again, _ := Design(4, 2, 2, 3, 7)
	other, _ := Design(4, 2, 2, 3, 8)
	seen, moved := map[[4]int]bool{}, false
	for i, trial := range trials {
		if trial != again[i] || trial.Number != i+1 {
			t.Errorf("trial %d: %+v, again %+v", i+1, trial, again[i])
		}
		moved = moved || trial != other[i]
		seen[[4]int{trial.Unit, trial.Operator, trial.Reseating, trial.Repeat}] = true
		if trial.Repeat > 1 && (trials[i-1].Unit != trial.Unit || trials[i-1].Repeat != trial.Repeat-1) {
			t.Errorf("trial %d repeats a seating that is over: %+v", i+1, trial)
		}
	}
	if len(trials) != 48 || len(seen) != 48 || !moved {
		t.Errorf("%d trials, %d of them different, another seed differs: %v", len(trials), len(seen), moved)
	}
	// The order printed for seed 7 must not change: a study may be half way through.
	var units []int
	for i := 0; i < len(trials); i += 3 {
		units = append(units, trials[i].Unit)
	}
	if want := []int{1, 1, 4, 3, 2, 2, 4, 4, 4, 2, 1, 3, 3, 2, 1, 3}; !slices.Equal(units, want) {
		t.Errorf("the units of seed 7 now come as %v, not as %v", units, want)
	}
	if _, err := Design(1, 2, 2, 3, 7); err == nil {
		t.Error("one unit is a design")
	}
	if _, err := Design(2, 2, 0, 3, 7); err == nil {
		t.Error("no seatings are a design")
	}
}
