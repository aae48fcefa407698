package sweep

import "math"

// stood turns a dwell into a point of the mount's fit. The tilt by delay is taken in the
// whole period of the tone that the line expects.
func (c *course) stood(v *verdict, d dwelt) point {
	x := d.tilt
	if d.all.DelayPeriodUS > 0 {
		expected := v.line.at0 + v.line.perDeg*c.screwDeg + v.shiftArcmin
		x = expected + math.Remainder(x-expected, c.plan.periodArcmin())
	}
	return point{
		deg: c.screwDeg, x: x, xSD: math.Hypot(c.plan.Tape.Arcmin(d.all.DelayNoiseSDUS), standingSDDeg*math.Abs(v.line.perDeg)),
		at: c.tapeSeconds() - d.all.Seconds/2, seconds: d.all.Seconds, home: true, byX: true,
	}
}

// tellDrive fits the drive again, now with the places at which the screw stood. Nothing
// lags there, so that they separate the lag of the sound from the backlash. The optimum
// stays as decided; gearing, backlash and the estimates in degrees come from the new fit.
func (c *course) tellDrive(v *verdict, places []point) {
	if !v.line.ok || len(places) == 0 {
		return
	}
	ps := c.plan.inOnePeriod(c.settled())
	m := fitMount(append(ps, places...), c.plan.homeSide)
	if !m.ok {
		return
	}
	backlash, sd := v.BacklashDeg, v.BacklashSDDeg
	m.line.at0 -= v.shiftArcmin
	v.mount = m
	v.noteMount()
	if c.plan.BothSides {
		v.BacklashDeg, v.BacklashSDDeg = backlash, sd
	}
	if v.Fitted.OK {
		v.Fitted = v.estimate(v.treble.centre, v.treble.centreSD)
		v.nameUnlike()
	}
	if v.DelayZero.OK {
		v.DelayZero = v.estimate(c.plan.Tape.Arcmin(c.plan.ChannelDelayUS), c.plan.Tape.Arcmin(c.plan.ChannelDelaySDUS))
	}
}
