package sweep

import (
	"fmt"
	"math"
	"sort"
)

// edges are the two dull edges as they were measured, and the top between
// them.
type edges struct {
	low, high     float64 // positions
	lowOK, highOK bool
	top, topAt    float64
	slope         float64 // dB per unit of position, mean of both
	sd            float64 // of the midpoint, in units of position
}

func (e edges) mid() float64 { return (e.low + e.high) / 2 }

// onScrew takes edges in arcmin of tilt to degrees of screw.
func (e edges) onScrew(l line) edges {
	e.low, e.high, e.topAt = l.deg(e.low), l.deg(e.high), l.deg(e.topAt)
	if l.perDeg < 0 {
		e.low, e.high, e.lowOK, e.highOK = e.high, e.low, e.highOK, e.lowOK
	}
	e.slope, e.sd = e.slope*math.Abs(l.perDeg), e.sd/math.Abs(l.perDeg)
	return e
}

type sample struct{ z, y, sd float64 }

// findEdges goes outwards from the top to where the treble has fallen by
// dullDB on each side, with straight lines between the points. smooth takes
// the mean of three neighbours first, for programme material.
func findEdges(samples []sample, dullDB float64, smooth bool) edges {
	s := merge(samples)
	if smooth {
		s = smoothed(s)
	}
	if len(s) < 3 {
		return edges{}
	}
	best := 0
	for i := range s {
		if s[i].y > s[best].y {
			best = i
		}
	}
	e := edges{top: s[best].y, topAt: s[best].z}
	level := e.top - dullDB
	var slopes []float64
	for i := best; i > 0 && !e.lowOK; i-- {
		if s[i-1].y <= level {
			e.low, e.lowOK = crossing(s[i-1], s[i], level), true
			slopes = append(slopes, slope(s[i-1], s[i]))
		}
	}
	for i := best; i+1 < len(s) && !e.highOK; i++ {
		if s[i+1].y <= level {
			e.high, e.highOK = crossing(s[i], s[i+1], level), true
			slopes = append(slopes, slope(s[i], s[i+1]))
		}
	}
	if len(slopes) == 2 {
		e.slope = (slopes[0] + slopes[1]) / 2
		e.sd = meanSD(s) / e.slope / math.Sqrt2
	}
	return e
}

func crossing(a, b sample, level float64) float64 {
	return a.z + (level-a.y)/(b.y-a.y)*(b.z-a.z)
}

func slope(a, b sample) float64 { return math.Abs((b.y - a.y) / (b.z - a.z)) }

func meanSD(s []sample) float64 {
	var v float64
	for _, p := range s {
		v += p.sd * p.sd
	}
	return math.Sqrt(v / float64(len(s)))
}

// merge sorts by position and takes the mean of points that lie within a
// degree (or arcminute) of each other.
func merge(in []sample) []sample {
	s := append([]sample(nil), in...)
	sort.SliceStable(s, func(i, j int) bool { return s[i].z < s[j].z })
	var out []sample
	for i := 0; i < len(s); {
		j, z, y, v := i, 0.0, 0.0, 0.0
		for ; j < len(s) && s[j].z-s[i].z < 1; j++ {
			z += s[j].z
			y += s[j].y
			v += s[j].sd * s[j].sd
		}
		n := float64(j - i)
		out = append(out, sample{z / n, y / n, math.Sqrt(v) / n})
		i = j
	}
	return out
}

func smoothed(s []sample) []sample {
	if len(s) < 5 {
		return s
	}
	out := append([]sample(nil), s...)
	for i := 1; i+1 < len(s); i++ {
		out[i].y = (s[i-1].y + s[i].y + s[i+1].y) / 3
		out[i].sd = math.Sqrt(s[i-1].sd*s[i-1].sd+s[i].sd*s[i].sd+s[i+1].sd*s[i+1].sd) / 3
	}
	return out
}

// missing says which dull edge was not seen.
func (e edges) missing() string {
	switch {
	case !e.lowOK && !e.highOK:
		return "neither dull edge was reached"
	case !e.lowOK:
		return fmt.Sprintf("the lower dull edge was not reached (top at %.0f)", e.topAt)
	case !e.highOK:
		return fmt.Sprintf("the upper dull edge was not reached (top at %.0f)", e.topAt)
	}
	return ""
}
