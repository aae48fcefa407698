package sweep

import (
	"math"

	"headtrue/sweep/estimate"
)

// bladeTilt is by how much the seated blade tilts the head, in arcmin, with its
// standard deviation; zero where that does not stand clear of the noise.
type bladeTilt struct{ arcmin, sd float64 }

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

// noteBlade keeps what seating the blade did to the head.
func (c *search) noteBlade() {
	off, on := *c.found.BladeOff, *c.found.Seated
	if !estimate.DelayUsable(off) || !estimate.DelayUsable(on) {
		return
	}
	b := bladeTilt{estimate.TiltBetween(c.plan.Tape, on, off), estimate.TiltSD(c.plan.Tape, on, off)}
	if math.Abs(b.arcmin) > mostBladeArcmin {
		c.tell("engage", "the delay before and after seating the blade differs by %.0f', which no blade does: not counted", b.arcmin)
		return
	}
	c.tell("engage", "seating the blade moved the head by %.1f', give or take %.1f'", b.arcmin, b.sd)
	if b.sd < knownBlade && math.Abs(b.arcmin) > max(leastBladeArcmin, clearBlade*b.sd) {
		c.blade = b
	}
}

// seatedTilt is the tilt by delay that the head must have with the blade seated
// to stand at the optimum with the blade away; seatedDeg the place of the screw.
func (c *search) seatedTilt(v estimate.Verdict) float64 { return v.TiltArcmin + c.blade.arcmin }

func (c *search) seatedDeg(v estimate.Verdict) float64 {
	if !v.Line.OK {
		return v.Optimum.Deg
	}
	return v.Optimum.Deg + c.blade.arcmin/v.Line.PerDeg
}
