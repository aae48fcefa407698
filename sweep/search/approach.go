package search

import (
	"context"
	"math"

	"headtrue/sweep/estimate"

	"headtrue/sweep/record"
)

const (
	approachSeconds = 0.3
	ApproachAgain   = 1.0
	probeDeg        = 40 // beyond any usual slack
	nearArcmin      = 5  // so near, another place tells more than the zero itself
	reachArcmin     = 15 // beyond the places heard, the line is believed so far
	approachSteps   = 12
)

// approach goes to the delay zero by the delay alone, which for a programme says
// at once how far the head is off: a probing turn towards the home side tells
// the gearing, and each place after it tells it better. It says no where the
// delay cannot be used; then the treble must be searched.
func (c *Search) approach(ctx context.Context) (bool, error) {
	if r := c.Found.Seated; c.Plan.ToneHz > 0 || r == nil || !estimate.DelayUsable(*r) {
		return false, nil
	}
	c.Tell(phaseApproach, "the delay says %.0f' off; turning to see how the head follows", c.tiltOff(*c.Found.Seated))
	target := c.ScrewDeg + probeDeg*c.HomeSide()
	for range approachSteps {
		s, err := c.Step(ctx, phaseApproach, c.Within(target), approachSeconds, len(c.Steps) > 0)
		if err == nil && !estimate.DelayUsable(s.Reading) { // a moment without treble, perhaps
			s, err = c.Step(ctx, phaseApproach, c.Within(target), ApproachAgain, len(c.Steps) > 1)
		}
		if err == nil {
			err = c.checkFollowing()
		}
		if err != nil || !estimate.DelayUsable(s.Reading) {
			return false, err
		}
		places := c.Plan.Points(c.Steps)
		l := estimate.FitMount(places, c.HomeSide())
		switch perDeg, clear := c.followed(); {
		case l.OK && c.reached(l.Line):
			return true, nil
		case l.OK && estimate.Spread(places) > probeDeg/4:
			target = l.Deg(c.Plan.Tape.Arcmin(c.Plan.ChannelDelayUS))
		case clear && math.Abs(c.tiltOff(s.Reading)) > nearArcmin:
			target = c.ScrewDeg - c.tiltOff(s.Reading)/perDeg
		default:
			target = c.ScrewDeg + probeDeg/2*c.HomeSide()
		}
		if target != c.Within(target) && math.Abs(c.ScrewDeg) >= c.Plan.WindowDeg {
			return false, nil
		}
	}
	return false, nil
}

// reached says that the place of the delay zero is known well enough by the
// delay line to be measured from, not far beyond what was heard.
func (c *Search) reached(l estimate.Line) bool {
	deg := l.Deg(c.Plan.Tape.Arcmin(c.Plan.ChannelDelayUS))
	beyond := math.Inf(1)
	for _, s := range c.Steps {
		if s.FromHome {
			beyond = min(beyond, math.Abs(deg-s.ScrewDeg))
		}
	}
	return beyond*math.Abs(l.PerDeg) < reachArcmin && l.SD(deg) < max(1.5, 3*c.Plan.WithinArcmin)
}

// tiltOff is how far a reading's delay lies from the fixed delay between the
// channels, arcmin.
func (c *Search) tiltOff(r record.Reading) float64 {
	return c.Plan.Tape.Arcmin(r.DelayUS - c.Plan.ChannelDelayUS)
}

// followed is the gearing in arcmin per degree by the last place against as
// found, with half of the usual play taken off on the home side, and whether the
// head has clearly moved.
func (c *Search) followed() (perDeg float64, clear bool) {
	const clearArcmin = 3
	last := c.Steps[len(c.Steps)-1]
	tilt := c.Plan.Tape.Arcmin(last.Reading.DelayUS - c.Found.Seated.DelayUS)
	turned := last.ScrewDeg * c.HomeSide()
	if turned > 0 {
		turned = math.Max(turned-estimate.LagDeg, 1)
	} else {
		turned = math.Min(turned, -1)
	}
	return tilt / (turned * c.HomeSide()), math.Abs(tilt) > clearArcmin
}
