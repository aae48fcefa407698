package search

import (
	"math"

	"headtrue/sweep/estimate"
)

// stood converts a dwell to a point for the mount's fit. On a tone it takes the tilt by
// delay in the period nearest to the line's value.
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

// tellDrive fits the drive again with the places at which the screw stood. Sound does not
// lag there, so these places separate the lag of the sound from the backlash. The optimum
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
