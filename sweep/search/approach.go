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
	probeDeg        = 40 // exceeds any usual backlash
	nearArcmin      = 5  // nearer than this, a place beside the zero adds more information
	reachArcmin     = 15 // greatest extrapolation of the delay line beyond the places heard
	approachSteps   = 12
)

// approach drives to the delay zero by the delay alone, which gives the tilt error of a
// programme at once. A probing turn towards the home side measures the gearing, and each
// further place improves it. approach returns false if the delay cannot be used; then the
// treble must be searched.
func (c programme) approach(ctx context.Context) (bool, error) {
	if r := c.Found.Seated; r == nil || !estimate.DelayUsable(*r) {
		return false, nil
	}
	c.Tell(phaseApproach, "by the delay the head is %.0f' off; turning the screw to see how the head follows", c.tiltOff(*c.Found.Seated))
	target := c.ScrewDeg + probeDeg*c.HomeSide()
	for range approachSteps {
		s, err := c.Step(ctx, phaseApproach, c.Within(target), approachSeconds, len(c.Steps) > 0)
		if err == nil && !estimate.DelayUsable(s.Reading) { // perhaps a moment without treble
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

// reached reports whether the delay line gives the place of the delay zero well enough to
// measure from it, without a long extrapolation.
func (c programme) reached(l estimate.Line) bool {
	deg := l.Deg(c.Plan.Tape.Arcmin(c.Plan.ChannelDelayUS))
	beyond := math.Inf(1)
	for _, s := range c.Steps {
		if s.FromHome {
			beyond = min(beyond, math.Abs(deg-s.ScrewDeg))
		}
	}
	return beyond*math.Abs(l.PerDeg) < reachArcmin && l.SD(deg) < max(1.5, 3*c.Plan.WithinArcmin)
}

// tiltOff returns the tilt of a reading's delay from the delay zero, arcmin.
func (c *Search) tiltOff(r record.Reading) float64 {
	return c.Plan.Tape.Arcmin(r.DelayUS - c.Plan.ChannelDelayUS)
}

// followed returns the gearing in arcmin per degree between as found and the last place,
// with half of the usual backlash taken off on the home side, and whether the head has
// clearly moved.
func (c programme) followed() (perDeg float64, clear bool) {
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
