package search

import (
	"math"

	"headtrue/sweep/estimate"
)

// stood turns a dwell into a point of the mount's fit. The tilt by delay is taken in the
// whole period of the tone that the line expects.
func (c *Search) stood(v *estimate.Verdict, d estimate.Dwelt) estimate.Point {
	x := d.Tilt
	if d.All.DelayPeriodUS > 0 {
		expected := v.Line.At0 + v.Line.PerDeg*c.ScrewDeg + v.ShiftArcmin
		x = expected + math.Remainder(x-expected, c.Plan.PeriodArcmin())
	}
	return estimate.Point{
		Deg: c.ScrewDeg, X: x, XSD: math.Hypot(c.Plan.Tape.Arcmin(d.All.DelayNoiseSDUS), estimate.StandingSDDeg*math.Abs(v.Line.PerDeg)),
		At: c.TapeSeconds() - d.All.Seconds/2, Seconds: d.All.Seconds, Home: true, ByX: true,
	}
}

// tellDrive fits the drive again, now with the places at which the screw stood. Nothing
// lags there, so that they separate the lag of the sound from the backlash. The optimum
// stays as decided; gearing, backlash and the estimates in degrees come from the new fit.
func (c *Search) tellDrive(v *estimate.Verdict, places []estimate.Point) {
	if !v.Line.OK || len(places) == 0 {
		return
	}
	ps := c.Plan.InOnePeriod(c.Settled())
	m := estimate.FitMount(append(ps, places...), c.Plan.HomeSide)
	if !m.OK {
		return
	}
	backlash, sd := v.BacklashDeg, v.BacklashSDDeg
	m.Line.At0 -= v.ShiftArcmin
	v.Mount = m
	v.NoteMount()
	if c.Plan.BothSides {
		v.BacklashDeg, v.BacklashSDDeg = backlash, sd
	}
	if v.Fitted.OK {
		v.Fitted = v.Estimate(v.Treble.Centre, v.Treble.CentreSD)
		v.NameUnlike()
	}
	if v.DelayZero.OK {
		v.DelayZero = v.Estimate(c.Plan.Tape.Arcmin(c.Plan.ChannelDelayUS), c.Plan.Tape.Arcmin(c.Plan.ChannelDelaySDUS))
	}
}
