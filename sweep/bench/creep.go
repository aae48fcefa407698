package bench

import "math"

// creep is the slow part of the head's movement. Of each turn of the screw, and of each
// press of the blade, this share follows with a time constant and the rest at once, like
// a spring in series with a spring and damper in parallel (standard linear solid).
type creep struct {
	share float64 // of the movement
	pace  float64 // share of the rest that is made per step
	slow  float64 // position of the slow part, arcmin
}

func newCreep(d Deck, at float64) creep {
	return creep{share: d.CreepPercent / 100, pace: 1 - math.Exp(-1/(controlRate*max(d.CreepSeconds, 1e-3))), slow: at}
}

// follow lets one control period pass and returns the new target of the head.
func (c *creep) follow(rest float64) float64 {
	if c.share == 0 {
		return rest
	}
	c.slow += c.pace * (rest - c.slow)
	return rest + c.share*(c.slow-rest)
}
