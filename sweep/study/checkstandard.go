package study

import (
	"fmt"
	"maps"
	"math"
	"slices"
)

// Spread is a standard deviation and its degrees of freedom.
type Spread struct {
	SDArcmin float64
	DOF      int
}

// Pool returns the pooled standard deviation, sqrt(sum dof s^2 / sum dof) (NIST/SEMATECH
// e-Handbook 2.4.4).
func Pool(spreads []Spread) (Spread, error) {
	var sum float64
	var dof int
	for i, s := range spreads {
		if !(s.SDArcmin >= 0) || math.IsInf(s.SDArcmin, 1) || s.DOF < 0 {
			return Spread{}, fmt.Errorf("study: standard deviation %d is %v with %d degrees of freedom", i+1, s.SDArcmin, s.DOF)
		}
		sum += float64(s.DOF) * square(s.SDArcmin)
		dof += s.DOF
	}
	if dof == 0 {
		return Spread{}, fmt.Errorf("study: %d standard deviations without degrees of freedom", len(spreads))
	}
	return Spread{math.Sqrt(sum / float64(dof)), dof}, nil
}

// SpreadOf returns the standard deviation of values about their mean; for one value it
// has no degrees of freedom.
func SpreadOf(values []float64) Spread {
	if len(values) < 2 {
		return Spread{}
	}
	m, sum := mean(values), 0.0
	for _, v := range values {
		sum += square(v - m)
	}
	return Spread{math.Sqrt(sum / float64(len(values)-1)), len(values) - 1}
}

// Check is one day's reading of a check standard: the mean of Repeats readings taken
// shortly after one another, and their standard deviation.
type Check struct {
	Standard, Run string
	Arcmin        float64
	SDArcmin      float64
	Repeats       int
}

// CheckStandards are the three levels of a nested study (NIST/SEMATECH e-Handbook 2.6.1
// and 2.4.4). ShortTerm s1 pools the daily standard deviations, DayToDay s2 the daily
// means about the mean of their run, RunToRun s3 the means of runs about the mean of
// their standard. Each includes the one before: s2^2 = days^2 + s1^2/J, s3^2 = runs^2 +
// s2^2/K for J repeats and K days.
type CheckStandards struct {
	ShortTerm, DayToDay, RunToRun Spread
	Days, Runs                    Component // alone, without the lower levels
	// OneReading is a single reading on any day of any run: s3^2 + (K-1)/K s2^2 + (J-1)/J
	// s1^2.
	OneReading Component
}

// NestedChecks analyses check standards. Every run of every standard needs the
// same number of days, every day the same number of repeats.
func NestedChecks(checks []Check) (CheckStandards, error) {
	var order []string
	byRun := map[string]map[string][]float64{}
	var daily []Spread
	for i, c := range checks {
		if math.IsNaN(c.Arcmin) || math.IsInf(c.Arcmin, 0) || c.Repeats < 2 || c.Repeats != checks[0].Repeats {
			return CheckStandards{}, fmt.Errorf("study: check %d of standard %q is %v arcmin by %d repeats (the first: %d)", i+1, c.Standard, c.Arcmin, c.Repeats, checks[0].Repeats)
		}
		if byRun[c.Standard] == nil {
			order = append(order, c.Standard)
			byRun[c.Standard] = map[string][]float64{}
		}
		byRun[c.Standard][c.Run] = append(byRun[c.Standard][c.Run], c.Arcmin)
		daily = append(daily, Spread{c.SDArcmin, c.Repeats - 1})
	}
	var days, runs []Spread
	perRun := 0
	for _, standard := range order {
		var means []float64
		for _, run := range slices.Sorted(maps.Keys(byRun[standard])) {
			values := byRun[standard][run]
			if perRun == 0 {
				perRun = len(values)
			}
			if len(values) != perRun {
				return CheckStandards{}, fmt.Errorf("study: run %q of standard %q has %d days, others %d: the study must be balanced", run, standard, len(values), perRun)
			}
			days = append(days, SpreadOf(values))
			means = append(means, mean(values))
		}
		runs = append(runs, SpreadOf(means))
	}
	return levels(daily, days, runs, float64(perRun))
}

func levels(daily, days, runs []Spread, k float64) (c CheckStandards, err error) {
	if c.ShortTerm, err = Pool(daily); err != nil {
		return CheckStandards{}, fmt.Errorf("within days: %w", err)
	}
	if c.DayToDay, err = Pool(days); err != nil {
		return CheckStandards{}, fmt.Errorf("from day to day: %w", err)
	}
	if c.RunToRun, err = Pool(runs); err != nil {
		return CheckStandards{}, fmt.Errorf("from run to run: %w", err)
	}
	j := float64(daily[0].DOF + 1)
	v1, v2, v3 := square(c.ShortTerm.SDArcmin), square(c.DayToDay.SDArcmin), square(c.RunToRun.SDArcmin)
	c.Days, c.Runs = component(v2-v1/j), component(v3-v2/k)
	c.OneReading = component(v3 + (k-1)/k*v2 + (j-1)/j*v1)
	if c.OneReading.SDArcmin > 0 {
		shares(c.OneReading, &c.Days, &c.Runs, &c.OneReading)
	}
	return c, nil
}
