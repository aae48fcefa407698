package sweep

import (
	"fmt"
	"math"

	"headtrue/sweep/estimate"

	"headtrue/sweep/record"
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
func (c *course) noteBlade() {
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
func (c *course) seatedTilt(v estimate.Verdict) float64 { return v.TiltArcmin + c.blade.arcmin }

func (c *course) seatedDeg(v estimate.Verdict) float64 {
	if !v.Line.OK {
		return v.Optimum.Deg
	}
	return v.Optimum.Deg + c.blade.arcmin/v.Line.PerDeg
}

// noteOff notes how far off the optimum the head is heard to stand as left.
func (c *course) noteOff(left *record.Left, v *estimate.Verdict) {
	r := left.Released
	if !v.Line.OK || !estimate.DelayUsable(*r) {
		return
	}
	r.DelayTrackedUS = c.count(*r)
	optimum, sd := v.TiltArcmin, math.Hypot(v.Wander.MeanSD(r.Seconds), c.plan.Tape.Arcmin(r.DelayNoiseSDUS))
	if c.plan.ByTreble {
		// The delay does not say where the optimum is, only whether the head has moved.
		if left.Verified == nil || !estimate.DelayUsable(*left.Verified) {
			return
		}
		optimum, sd = c.plan.Tape.Arcmin(left.Verified.DelayTrackedUS)-c.blade.arcmin, math.Hypot(sd, v.MeasuredSDArcmin)
	}
	off := c.offTilt(v, *r, c.plan.Tape.Arcmin(r.DelayTrackedUS), optimum)
	left.OffArcmin, left.OffSDArcmin = &off, sd
}

// mostMixJumpUS is as far as a second source moves the delay: what dsp.Straight looks for.
const mostMixJumpUS = 520

// sayReleased judges the head with the motor off and the blade away against the
// optimum. What a released rotor or a withdrawn blade did to it shows only there.
func (c *course) sayReleased(end record.End, v estimate.Verdict) record.End {
	if c.blade.arcmin != 0 {
		end.Say += fmt.Sprintf("; the seated blade tilts the head by %.1f', give or take %.1f', which is allowed for", c.blade.arcmin, c.blade.sd)
	}
	if c.left.OffArcmin == nil {
		return end
	}
	off, sd := *c.left.OffArcmin, c.left.OffSDArcmin
	if math.Abs(off) <= max(estimate.Contradiction*sd, c.plan.WithinArcmin) {
		return end
	}
	if c.plan.ByTreble && math.Abs(off) <= c.plan.Tape.Arcmin(mostMixJumpUS) {
		end.Say += fmt.Sprintf("; with the blade away it stands %.1f' from there by the delay, which in this mix can be its sources' doing", off)
		return end
	}
	if end.Outcome == record.Aligned {
		end.Outcome = record.LessCertain
	}
	end.Say += fmt.Sprintf("; but with the blade away it stands %.1f' from there by the delay", off)
	end.Do = "look whether the blade tilts the head or turns the screw as it is withdrawn, then align again"
	return end
}
