package search

import (
	"math"

	"headtrue/sweep/estimate"
)

// A programme's delay gives the tilt error at once, but only if the head is near enough to
// the top for treble common to both channels. Farther out a reading may lie anywhere in its
// whole range, and its standard error may be small: only many readings along a line are
// significant.
const (
	trailLeast  = 6  // places
	trailArcmin = 20 // a place farther from the line does not belong to it; backlash is less
)

// trail returns the delay line of a programme along as many of the latest places of the run
// as lie on one; it is not OK if the delay does not follow the screw. The slope is the
// median of the slopes between any two places (Theil and Sen), which a quarter of wild
// places does not move.
func (c *Search) trail() estimate.Line {
	var ps []estimate.Point
	for _, p := range c.Plan.Points(c.runSteps()) {
		if p.ByX {
			ps = append(ps, p)
		}
	}
	for n := len(ps); n >= trailLeast; n-- {
		if l := estimate.MedianLine(ps[len(ps)-n:]); l.Credible(estimate.Spread(ps[len(ps)-n:])) {
			return l
		}
	}
	return estimate.Line{}
}

// mostlyByX reports whether the delay is usable at two places out of three.
func mostlyByX(ps []estimate.Point) bool {
	usable := 0
	for _, p := range ps {
		if p.ByX {
			usable++
		}
	}
	return usable*3 >= len(ps)*2
}

// reachOf returns the range of tilt that the places cover by a delay line, arcmin.
func (c *Search) reachOf(l estimate.Line) (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, s := range c.Steps {
		x := l.At0 + l.PerDeg*s.ScrewDeg
		lo, hi = min(lo, x), max(hi, x)
	}
	return lo, hi
}

// leaving reports whether, by the delay line, the head is far beyond the dull edge and turns
// further out.
func (c *Search) leaving(dir float64) bool {
	l := c.trail()
	x := l.At0 + l.PerDeg*c.ScrewDeg - c.Plan.Tape.Arcmin(c.Plan.ChannelDelayUS)
	return l.OK && math.Abs(x) > c.Plan.Material().HalfWidthArcmin(c.Plan.DullDB)*farOut && x*l.PerDeg*dir > 0
}

// nearing reports whether, by the delay line, the top lies ahead or on both sides.
func (c *Search) nearing(dir float64) bool { return c.trail().OK && !c.leaving(dir) }

// farOut is how far a programme is followed beyond the expected dull edge, as a multiple of
// its distance from the delay zero: the fixed delay between the channels shifts that zero.
const farOut = 1.2
