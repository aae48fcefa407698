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
// lag there, so these places separate the lag of the sound from the backlash. Gearing and
// backlash come from the new fit; the optimum and the estimates on the way to it stay.
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
	v.NameUnlike()
}
