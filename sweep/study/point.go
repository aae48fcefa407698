package study

import (
	"fmt"
	"math"
	"slices"
)

// Point is one proof of a head's tilt: time, tilt and standard deviation (0 in all points
// if unknown). TemperatureC and Cycles (insertions of a cassette up to then) are nil if
// unknown.
type Point struct {
	Days, Arcmin, SDArcmin float64
	TemperatureC, Cycles   *float64
}

// series holds points in order of time, column by column.
type series struct {
	days, arcmin, sd []float64
	stated           bool // standard deviations are known
	points           []Point
}

func inOrder(points []Point) (series, error) {
	s := series{points: slices.Clone(points)}
	slices.SortStableFunc(s.points, func(a, b Point) int {
		switch {
		case a.Days < b.Days:
			return -1
		case a.Days > b.Days:
			return 1
		}
		return 0
	})
	for _, p := range s.points {
		if err := finite([]float64{p.Days, p.Arcmin, p.SDArcmin}); err != nil {
			return s, fmt.Errorf("point at day %v: %w", p.Days, err)
		}
		stated := p.SDArcmin > 0
		if p.SDArcmin < 0 || stated != (s.points[0].SDArcmin > 0) {
			return s, fmt.Errorf("study: the point at day %v has a standard deviation of %v arcmin: all must be above zero, or all zero", p.Days, p.SDArcmin)
		}
		sd := p.SDArcmin
		if !stated {
			sd = 1
		}
		s.stated = stated
		s.days, s.arcmin, s.sd = append(s.days, p.Days), append(s.arcmin, p.Arcmin), append(s.sd, sd)
	}
	return s, nil
}

// firstFrom returns the first point at or after a day; their number if there is none.
func (s series) firstFrom(day float64) int {
	at, _ := slices.BinarySearch(s.days, day)
	return at
}

// stepAt returns the column of a change of level at a point.
func (s series) stepAt(at int) []float64 {
	step := make([]float64, len(s.days))
	for i := at; i < len(step); i++ {
		step[i] = 1
	}
	return step
}

// known returns one of the optional columns minus its mean.
func (s series) known(what string, of func(Point) *float64) (column []float64, err error) {
	for _, p := range s.points {
		v := of(p)
		if v == nil || math.IsNaN(*v) || math.IsInf(*v, 0) {
			return nil, fmt.Errorf("study: the point at day %v has no %s", p.Days, what)
		}
		column = append(column, *v)
	}
	if rangeOf(column) == 0 {
		return nil, fmt.Errorf("study: the %s never changes, so its effect is unknown: %w", what, ErrUndetermined)
	}
	middle := mean(column)
	for i := range column {
		column[i] -= middle
	}
	return column, nil
}

func temperature(p Point) *float64 { return p.TemperatureC }
func cycles(p Point) *float64      { return p.Cycles }
