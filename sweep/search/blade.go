package search

import (
	"math"

	"headtrue/sweep/estimate"
	"headtrue/sweep/figures"
)

// A blade's tilt counts only above both of these limits, in arcmin and in standard
// deviations: a smaller one would add noise to the target.
const (
	leastBladeArcmin = 0.3
	clearBlade       = 4
	// knownBlade is the greatest permitted standard deviation, arcmin: far from the top, the
	// delay of a programme can jump, and its uncertainty shows that.
	knownBlade = 1
	// mostBladeArcmin exceeds any tilt that a blade can give a head on its spring; common
	// practice, no source.
	mostBladeArcmin = 15
)

// NoteBlade computes the tilt that seating the blade gave the head.
func (c *Search) NoteBlade() {
	off, on := *c.Found.BladeOff, *c.Found.Seated
	if !estimate.DelayUsable(off) || !estimate.DelayUsable(on) {
		return
	}
	b := BladeTilt{estimate.TiltBetween(c.Plan.Tape, on, off), estimate.TiltSD(c.Plan.Tape, on, off)}
	if math.Abs(b.Arcmin) > mostBladeArcmin {
		c.Tell("engage", "the delay before and after seating the blade differs by %.0f': no blade does that, so it is ignored", b.Arcmin)
		return
	}
	c.Tell("engage", "seating the blade tilted the head by %.1f',%s (95 %%)", b.Arcmin, figures.PlusMinus(&b.Sd, "'"))
	if b.Sd < knownBlade && math.Abs(b.Arcmin) > max(leastBladeArcmin, clearBlade*b.Sd) {
		c.Blade = b
	}
}

// seatedTilt is the tilt by delay with the blade seated that puts the head at the optimum
// once the blade is withdrawn; seatedDeg is its screw position.
func (c *Search) seatedTilt(v estimate.Verdict) float64 { return v.TiltArcmin + c.Blade.Arcmin }

func (c *Search) seatedDeg(v estimate.Verdict) float64 {
	if !v.Line.OK {
		return v.Optimum.Deg
	}
	return v.Optimum.Deg + c.Blade.Arcmin/v.Line.PerDeg
}
