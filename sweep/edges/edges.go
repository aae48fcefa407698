// Package edges finds the two dull edges of a curve of levels: on each side of its top the place
// at which the level has fallen by so many decibels.
package edges

import (
	"fmt"
	"math"
	"sort"
)

// Edges are the two measured dull edges and the top between them.
type Edges struct {
	Low, High     float64 // positions
	LowOK, HighOK bool
	Top, TopAt    float64
	Slope         float64 // dB per unit of position, mean of both
	SD            float64 // of the midpoint, in units of position
}

func (e Edges) Mid() float64 { return (e.Low + e.High) / 2 }

// Sample is a level at a place, either screw or tilt.
type Sample struct{ At, DB, SD float64 }

// Find searches outwards from the top for the place on each side at which the treble
// has fallen by dullDB, with straight lines between the points. smooth first takes the
// mean of three neighbours, for programme material.
func Find(samples []Sample, dullDB float64, smooth bool) Edges {
	s := merge(samples)
	if smooth {
		s = smoothed(s)
	}
	if len(s) < 3 {
		return Edges{}
	}
	best := 0
	for i := range s {
		if s[i].DB > s[best].DB {
			best = i
		}
	}
	e := Edges{Top: s[best].DB, TopAt: s[best].At}
	level := e.Top - dullDB
	var slopes []float64
	for i := best; i > 0 && !e.LowOK; i-- {
		if s[i-1].DB <= level {
			e.Low, e.LowOK = crossing(s[i-1], s[i], level), true
			slopes = append(slopes, slope(s[i-1], s[i]))
		}
	}
	for i := best; i+1 < len(s) && !e.HighOK; i++ {
		if s[i+1].DB <= level {
			e.High, e.HighOK = crossing(s[i], s[i+1], level), true
			slopes = append(slopes, slope(s[i], s[i+1]))
		}
	}
	if len(slopes) == 2 {
		e.Slope = (slopes[0] + slopes[1]) / 2
		e.SD = meanSD(s) / e.Slope / math.Sqrt2
	}
	return e
}

func crossing(a, b Sample, level float64) float64 {
	return a.At + (level-a.DB)/(b.DB-a.DB)*(b.At-a.At)
}

func slope(a, b Sample) float64 { return math.Abs((b.DB - a.DB) / (b.At - a.At)) }

func meanSD(s []Sample) float64 {
	var v float64
	for _, p := range s {
		v += p.SD * p.SD
	}
	return math.Sqrt(v / float64(len(s)))
}

// merge sorts by position and takes the mean of points within one degree (or arcminute)
// of the first.
func merge(in []Sample) []Sample {
	s := append([]Sample(nil), in...)
	sort.SliceStable(s, func(i, j int) bool { return s[i].At < s[j].At })
	var out []Sample
	for i := 0; i < len(s); {
		j, z, y, v := i, 0.0, 0.0, 0.0
		for ; j < len(s) && s[j].At-s[i].At < 1; j++ {
			z += s[j].At
			y += s[j].DB
			v += s[j].SD * s[j].SD
		}
		n := float64(j - i)
		out = append(out, Sample{z / n, y / n, math.Sqrt(v) / n})
		i = j
	}
	return out
}

func smoothed(s []Sample) []Sample {
	if len(s) < 5 {
		return s
	}
	out := append([]Sample(nil), s...)
	for i := 1; i+1 < len(s); i++ {
		out[i].DB = (s[i-1].DB + s[i].DB + s[i+1].DB) / 3
		out[i].SD = math.Sqrt(s[i-1].SD*s[i-1].SD+s[i].SD*s[i].SD+s[i+1].SD*s[i+1].SD) / 3
	}
	return out
}

// Missing names the dull edges that were not reached; empty if both were.
func (e Edges) Missing() string {
	switch {
	case !e.LowOK && !e.HighOK:
		return "neither dull edge was reached"
	case !e.LowOK:
		return fmt.Sprintf("the lower dull edge was not reached (top at %.0f)", e.TopAt)
	case !e.HighOK:
		return fmt.Sprintf("the upper dull edge was not reached (top at %.0f)", e.TopAt)
	}
	return ""
}
