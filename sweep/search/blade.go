package search

import (
	"math"

	"headtrue/sweep/estimate"
)

// A blade's tilt is believed from so much on, and from so many standard
// deviations: less would put noise upon the target.
const (
	leastBladeArcmin = 0.3
	clearBlade       = 4
	// knownBlade is how well it must be known, arcmin, one standard deviation: far
	// from the top the delay of a programme can jump, and says so by its
	// uncertainty.
	knownBlade = 1
	// mostBladeArcmin is more than a blade can press a head on its spring over;
	// common practice, no source.
	mostBladeArcmin = 15
)

// NoteBlade keeps what seating the blade did to the head.
func (c *Search) NoteBlade() {
	off, on := *c.Found.BladeOff, *c.Found.Seated
	if !estimate.DelayUsable(off) || !estimate.DelayUsable(on) {
		return
	}
	b := BladeTilt{estimate.TiltBetween(c.Plan.Tape, on, off), estimate.TiltSD(c.Plan.Tape, on, off)}
	if math.Abs(b.Arcmin) > mostBladeArcmin {
		c.Tell("engage", "the delay before and after seating the blade differs by %.0f', which no blade does: not counted", b.Arcmin)
		return
	}
	c.Tell("engage", "seating the blade moved the head by %.1f', give or take %.1f'", b.Arcmin, b.Sd)
	if b.Sd < knownBlade && math.Abs(b.Arcmin) > max(leastBladeArcmin, clearBlade*b.Sd) {
		c.Blade = b
	}
}

// seatedTilt is the tilt by delay that the head must have with the blade seated
// to stand at the optimum with the blade away; seatedDeg the place of the screw.
func (c *Search) seatedTilt(v estimate.Verdict) float64 { return v.TiltArcmin + c.Blade.Arcmin }

func (c *Search) seatedDeg(v estimate.Verdict) float64 {
	if !v.Line.OK {
		return v.Optimum.Deg
	}
	return v.Optimum.Deg + c.Blade.Arcmin/v.Line.PerDeg
}
