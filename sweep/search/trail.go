package search

import (
	"math"

	"headtrue/sweep/estimate"
)

// A programme's delay says at once how far the head is off, but only so near the
// top that treble common to both channels is heard. Farther out a reading is as
// likely at one place of its whole range as at another, and its standard error
// may be small: only many of them along a line show that they mean something.
const (
	trailLeast  = 6  // places
	trailArcmin = 20 // a place farther from the line is none of it; play is less
)

// trail is the delay line of a programme along the latest places of the scan
// under way, as many as lie on one; not ok where the delay does not follow the
// screw. It is fitted by the median of the slopes between any two places (Theil
// and Sen), which a quarter of wild places does not move.
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

// lost says that a programme has sound common to both channels but that its
// delay does not follow the screw: then the head is far off, and a top of the
// treble is one of the music.
func (c *Search) lost(byDelay bool) bool {
	return c.Plan.ToneHz == 0 && !byDelay && estimate.HasCommon(c.runSteps())
}

// mostlyByX says that the delay can be read at two places out of three.
func mostlyByX(ps []estimate.Point) bool {
	usable := 0
	for _, p := range ps {
		if p.ByX {
			usable++
		}
	}
	return usable*3 >= len(ps)*2
}

// reachOf is what the places so far cover by a delay line, arcmin.
func (c *Search) reachOf(l estimate.Line) (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, s := range c.Steps {
		x := l.At0 + l.PerDeg*s.ScrewDeg
		lo, hi = min(lo, x), max(hi, x)
	}
	return lo, hi
}

// leaving says that by the delay line the head is far beyond the dull edge and
// goes further out.
func (c *Search) leaving(dir float64) bool {
	l := c.trail()
	x := l.At0 + l.PerDeg*c.ScrewDeg - c.Plan.Tape.Arcmin(c.Plan.ChannelDelayUS)
	return l.OK && math.Abs(x) > c.Plan.Material().HalfWidthArcmin(c.Plan.DullDB)*farOut && x*l.PerDeg*dir > 0
}

// nearing says that by the delay line the top lies ahead, or all about.
func (c *Search) nearing(dir float64) bool { return c.trail().OK && !c.leaving(dir) }

// farOut is how far beyond the expected dull edge, as a multiple of its
// distance from the delay zero, a programme is followed: the fixed delay between
// the channels shifts that zero.
const farOut = 1.2
