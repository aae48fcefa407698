package bench

import "math"

// creep is the last share of a head's way, which it goes slowly: of each turn of the
// screw, and of each press of the blade, this share follows with a time constant and
// the rest at once, as a spring in parallel with a damper behind a spring does
// (standard linear solid).
type creep struct {
	share float64 // of the way
	pace  float64 // share of what is left that is gone per step
	slow  float64 // where the slow part stands, arcmin
}

func newCreep(d Deck, at float64) creep {
	return creep{share: d.CreepPercent / 100, pace: 1 - math.Exp(-1/(controlRate*max(d.CreepSeconds, 1e-3))), slow: at}
}

// follow lets one control period pass and returns where the head goes at once.
func (c *creep) follow(rest float64) float64 {
	if c.share == 0 {
		return rest
	}
	c.slow += c.pace * (rest - c.slow)
	return rest + c.share*(c.slow-rest)
}
