package sweep

import (
	"context"
	"math"

	"headtrue/sweep/record"
)

const (
	approachSeconds = 0.3
	probeDeg        = 40 // beyond any usual slack
	nearArcmin      = 5  // near enough to measure from
	approachSteps   = 12
)

// phaseApproach names the steps towards the delay zero.
const phaseApproach = "approach"

// approach goes to the delay zero by the delay alone, which for a programme says
// at once how far the head is off: a probing turn towards the home side tells
// the gearing, and each place after it tells it better. It says no where the
// delay cannot be used; then the treble must be searched.
func (c *course) approach(ctx context.Context) (bool, error) {
	if r := c.found.Seated; c.plan.ToneHz > 0 || r == nil || !delayUsable(*r) {
		return false, nil
	}
	c.tell(phaseApproach, "the delay says %.0f' off; turning to see how the head follows", c.tiltOff(*c.found.Seated))
	target := c.screwDeg + probeDeg*c.homeSide()
	for range approachSteps {
		s, err := c.step(ctx, phaseApproach, c.within(target), approachSeconds, len(c.steps) > 0)
		if err == nil {
			err = c.checkFollowing()
		}
		if err != nil {
			return false, err
		}
		if !delayUsable(s.Reading) {
			return false, nil
		}
		perDeg, known := c.followed()
		if !known {
			target = c.screwDeg + probeDeg/2*c.homeSide()
			continue
		}
		off := c.tiltOff(s.Reading)
		if math.Abs(off) < nearArcmin && spread(points(c.steps, minLevelSD)) > probeDeg/2 {
			return true, nil
		}
		target = c.screwDeg - off/perDeg
		if target == c.within(target) || math.Abs(c.screwDeg) < c.plan.WindowDeg {
			continue
		}
		return false, c.notBracketed(1)
	}
	return false, nil
}

// within keeps a target inside the window.
func (c *course) within(deg float64) float64 {
	return max(-c.plan.WindowDeg, min(c.plan.WindowDeg, deg))
}

// tiltOff is how far a reading's delay lies from the fixed delay between the
// channels, arcmin.
func (c *course) tiltOff(r record.Reading) float64 {
	return (r.DelayUS - c.plan.ChannelDelayUS) / USPerArcmin
}

// followed is the gearing in arcmin per degree by the places so far, and whether
// the head has clearly moved: by those that arrived from the home side, or from
// as found, with half of the usual play taken off.
func (c *course) followed() (perDeg float64, clear bool) {
	const clearArcmin = 3
	if l := fitMount(points(c.steps, minLevelSD), c.homeSide()); l.ok && spread(points(c.steps, minLevelSD)) > 15 {
		return l.perDeg, true
	}
	last := c.steps[len(c.steps)-1]
	tilt := (last.Reading.DelayUS - c.found.Seated.DelayUS) / USPerArcmin
	turned := math.Max(math.Abs(last.ScrewDeg)-lagDeg, 1) * c.homeSide()
	return tilt / turned, math.Abs(tilt) > clearArcmin
}

// knownUS is how well the fixed delay between the channels must be known for
// the delay alone to set the head.
const knownUS = 1.0

// byDelayAlone says that nothing but the delay is needed.
func (c *course) byDelayAlone() bool {
	return c.plan.ChannelDelaySDUS <= knownUS && c.plan.ChannelDelaySDUS/USPerArcmin < c.plan.WithinArcmin
}
