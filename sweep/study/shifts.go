package study

import (
	"fmt"
	"math"
	"slices"
)

// Shift is a change of level in a series, between two points. Index is the first point at
// the new level. Days and DaysSD are the mean and standard deviation of its time, each
// gap weighted by its likelihood. SDArcmin assumes that the position found is right.
type Shift struct {
	Index                 int
	AfterDays, BeforeDays float64
	Days, DaysSD          float64
	SizeArcmin, SDArcmin  float64
}

// shortest is the least number of points of a level, so that one stray reading is no
// level unless it is off by about eight standard deviations.
const shortest = 3

// penaltyPerShift times ln n is the least gain of a shift in chi-squared. 3 is that of a
// modified Bayes criterion (Zhang and Siegmund 2007, from memory); a test measures the
// rate of false alarms.
const penaltyPerShift = 3

// Shifts finds the levels of a series of points: those that minimise chi-squared + 3
// ln(n) x shifts over all partitions of the series (optimal partitioning, Jackson and
// others 2005). If neighbours differ by more than their stated standard deviations, these
// are scaled up by the median; without stated ones that median alone is the scale. A
// level has at least three points. A slow drift is cut into steps: test for drift first.
// A shift at the limit of detection appears larger than it is, since smaller ones are not
// found.
func Shifts(points []Point) ([]Shift, error) {
	s, err := inOrder(points)
	if err != nil {
		return nil, err
	}
	if len(points) < 2*shortest {
		return nil, fmt.Errorf("study: shifts among %d points: at least %d are needed: %w", len(points), 2*shortest, ErrUndetermined)
	}
	scale := s.roughness()
	if scale == 0 {
		return nil, fmt.Errorf("study: half of the points equal their neighbours: their scatter cannot be told: %w", ErrUndetermined)
	}
	for i := range s.sd {
		s.sd[i] *= scale
	}
	sums := newSegments(s)
	cuts := sums.partition(penaltyPerShift * math.Log(float64(len(points))))
	var found []Shift
	for i, cut := range cuts[1 : len(cuts)-1] {
		found = append(found, sums.shift(s.days, cuts[i], cut, cuts[i+2]))
	}
	return found, nil
}

// roughness returns the standard deviation of differences of neighbours, in units of the
// stated ones, from the median; at least 1 if they are stated.
func (s series) roughness() float64 {
	var steps []float64
	for i := 1; i < len(s.arcmin); i++ {
		steps = append(steps, math.Abs(s.arcmin[i]-s.arcmin[i-1])/math.Hypot(s.sd[i], s.sd[i-1]))
	}
	slices.Sort(steps)
	n := len(steps)
	median := (steps[(n-1)/2] + steps[n/2]) / 2
	scale := median / 0.6745 // of a normal distribution
	if s.stated {
		return max(1, scale)
	}
	return scale
}

// segments are running sums of 1/sd^2, y/sd^2, y^2/sd^2.
type segments struct{ w, wy, wyy []float64 }

func newSegments(s series) segments {
	n := len(s.arcmin)
	g := segments{make([]float64, n+1), make([]float64, n+1), make([]float64, n+1)}
	center := mean(s.arcmin) // against rounding
	for i := range n {
		w, y := 1/square(s.sd[i]), s.arcmin[i]-center
		g.w[i+1], g.wy[i+1], g.wyy[i+1] = g.w[i]+w, g.wy[i]+w*y, g.wyy[i]+w*y*y
	}
	return g
}

// level returns the weighted mean of points from to until, and its standard deviation.
func (g segments) level(from, until int) (level, sd float64) {
	w := g.w[until] - g.w[from]
	return (g.wy[until] - g.wy[from]) / w, 1 / math.Sqrt(w)
}

// cost returns chi-squared about the level.
func (g segments) cost(from, until int) float64 {
	return g.wyy[until] - g.wyy[from] - square(g.wy[until]-g.wy[from])/(g.w[until]-g.w[from])
}

// partition returns the best cuts, 0 and n included.
func (g segments) partition(penalty float64) []int {
	n := len(g.w) - 1
	best, last := make([]float64, n+1), make([]int, n+1)
	for until := 1; until <= n; until++ {
		best[until] = math.Inf(1)
		for from := 0; from <= until-shortest; from++ {
			if total := best[from] + g.cost(from, until) + penalty; total < best[until] {
				best[until], last[until] = total, from
			}
		}
	}
	cuts := []int{n}
	for cut := n; cut > 0; {
		cut = last[cut]
		cuts = append(cuts, cut)
	}
	slices.Reverse(cuts)
	return cuts
}

// shift describes the cut between two others.
func (g segments) shift(days []float64, from, cut, until int) Shift {
	before, sdBefore := g.level(from, cut)
	after, sdAfter := g.level(cut, until)
	s := Shift{
		Index: cut, AfterDays: days[cut-1], BeforeDays: days[cut],
		SizeArcmin: after - before, SDArcmin: math.Hypot(sdBefore, sdAfter),
	}
	lowest := g.cost(from, cut) + g.cost(cut, until)
	var sum, first, second float64
	for place := from + 1; place < until; place++ {
		gap, middle := days[place]-days[place-1], (days[place]+days[place-1])/2-s.BeforeDays
		likely := gap * math.Exp((lowest-g.cost(from, place)-g.cost(place, until))/2)
		sum += likely
		first += likely * middle
		second += likely * (middle*middle + gap*gap/12)
	}
	if sum == 0 { // the points beside the cut have the same time
		s.Days = s.BeforeDays
		return s
	}
	s.Days = s.BeforeDays + first/sum
	s.DaysSD = math.Sqrt(math.Max(0, second/sum-square(first/sum)))
	return s
}

// Say returns the shift in words.
func (s Shift) Say() string {
	return fmt.Sprintf("A shift of %+.2g' +- %.2g' between day %.4g and day %.4g.", s.SizeArcmin, s.SDArcmin, s.AfterDays, s.BeforeDays)
}
