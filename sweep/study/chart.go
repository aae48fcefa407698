package study

import (
	"fmt"
	"math"
)

// Baseline is the source of a chart's limits: its first First points (all if 0), or a
// given centre and standard deviation of a single value.
type Baseline struct {
	First        int
	Given        bool
	CenterArcmin float64
	SigmaArcmin  float64
}

// fewPoints is the size of a baseline below which limits are provisional.
const fewPoints = 20

// Chart is one control chart: points, limits at 3 sigma, and broken rules. Provisional
// reports that its limits rest on too few points; Why explains it in words.
type Chart struct {
	Points       []float64
	CenterArcmin float64
	SigmaArcmin  float64
	LowerArcmin  float64
	UpperArcmin  float64
	Findings     []Finding
	Provisional  bool
	Why          string
	Alarms       Alarms // of a chart of values or means
}

// Say returns the result of a chart in words.
func (c Chart) Say() string {
	said := fmt.Sprintf("%d points within %.3g' to %.3g': steady.", len(c.Points), c.LowerArcmin, c.UpperArcmin)
	if len(c.Findings) > 0 {
		said = fmt.Sprintf("Not steady: %s", c.Findings[0].Say())
		if more := len(c.Findings) - 1; more > 0 {
			said += fmt.Sprintf(", and %d more", more)
		}
		said += "."
	}
	if c.Provisional {
		said += " " + c.Why
	}
	return said
}

// Individuals makes a chart of single values and one of their moving ranges, each from
// one value to the next. Sigma is the mean moving range of the baseline over d2(2) =
// 1.128; the upper limit of ranges is D4(2) times their mean (e-Handbook 6.3.2.2). Ranges
// share values with their neighbours, so only the first rule is applied to them; range i
// is between values i and i+1.
func Individuals(values []float64, from Baseline) (single, moving Chart, err error) {
	if err := finite(values); err != nil {
		return single, moving, err
	}
	base, err := from.part(len(values))
	if err != nil {
		return single, moving, err
	}
	constants, err := Constants(2)
	if err != nil {
		return single, moving, err
	}
	ranges := make([]float64, len(values)-1)
	for i := range ranges {
		ranges[i] = math.Abs(values[i+1] - values[i])
	}
	center, sigma := from.CenterArcmin, from.SigmaArcmin
	if !from.Given {
		center, sigma = mean(values[:base]), mean(ranges[:base-1])/constants.D2
	}
	if !(sigma > 0) {
		return single, moving, fmt.Errorf("study: a chart of values with a sigma of %v arcmin: nothing varies", sigma)
	}
	single = newChart(values, center, sigma, AllRules...)
	moving = rangeChart(ranges, sigma, constants)
	single.provisional(from, base)
	single.Alarms = from.alarms(len(values), base, 1)
	moving.provisional(from, base)
	return single, moving, nil
}

// XbarR makes a chart of the means of subgroups of equal size and one of their ranges.
// Sigma of a single value is the mean range over d2; limits of the means are A2 times the
// mean range, those of the ranges D3 and D4 times it (e-Handbook 6.3.2.1). Only the first
// rule is applied to the ranges, which are not normal.
func XbarR(groups [][]float64, from Baseline) (means, ranges Chart, err error) {
	base, err := from.part(len(groups))
	if err != nil {
		return means, ranges, err
	}
	n := len(groups[0])
	constants, err := Constants(n)
	if err != nil {
		return means, ranges, err
	}
	middle, spread := make([]float64, len(groups)), make([]float64, len(groups))
	for i, group := range groups {
		if len(group) != n {
			return means, ranges, fmt.Errorf("study: subgroup %d has %d values, the first %d: all must have as many", i+1, len(group), n)
		}
		if err := finite(group); err != nil {
			return means, ranges, fmt.Errorf("subgroup %d: %w", i+1, err)
		}
		middle[i], spread[i] = mean(group), rangeOf(group)
	}
	center, sigma := from.CenterArcmin, from.SigmaArcmin
	if !from.Given {
		center, sigma = mean(middle[:base]), mean(spread[:base])/constants.D2
	}
	if !(sigma > 0) {
		return means, ranges, fmt.Errorf("study: a chart of means with a sigma of %v arcmin: nothing varies", sigma)
	}
	means = newChart(middle, center, sigma/math.Sqrt(float64(n)), AllRules...)
	ranges = rangeChart(spread, sigma, constants)
	means.provisional(from, base)
	means.Alarms = from.alarms(len(groups), base, n)
	ranges.provisional(from, base)
	return means, ranges, nil
}

func rangeOf(values []float64) float64 {
	low, high := values[0], values[0]
	for _, v := range values {
		low, high = min(low, v), max(high, v)
	}
	return high - low
}

// part returns the number of points from which the limits come.
func (b Baseline) part(points int) (int, error) {
	base := b.First
	if base == 0 || b.Given {
		base = points
	}
	if base < 2 || base > points {
		return 0, fmt.Errorf("study: a chart of %d points with limits from the first %d: at least 2 are needed", points, base)
	}
	if b.Given && math.IsNaN(b.CenterArcmin) {
		return 0, fmt.Errorf("study: a chart around %v arcmin", b.CenterArcmin)
	}
	return base, nil
}

func finite(values []float64) error {
	for i, v := range values {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return fmt.Errorf("study: value %d is %v", i+1, v)
		}
	}
	return nil
}

func newChart(points []float64, center, sigma float64, which ...Rule) Chart {
	return Chart{
		Points: points, CenterArcmin: center, SigmaArcmin: sigma,
		LowerArcmin: center - 3*sigma, UpperArcmin: center + 3*sigma,
		Findings: WesternElectric(points, center, sigma, which...),
	}
}

func rangeChart(ranges []float64, sigma float64, c ChartConstants) Chart {
	chart := newChart(ranges, c.D2*sigma, c.D3*sigma, BeyondThree)
	chart.LowerArcmin = max(0, chart.LowerArcmin)
	return chart
}

func (c *Chart) provisional(from Baseline, base int) {
	if !from.Given && base < fewPoints {
		c.Provisional = true
		c.Why = fmt.Sprintf("The limits rest on %d points only and are provisional until there are %d.", base, fewPoints)
	}
}
