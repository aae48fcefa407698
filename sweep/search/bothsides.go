package search

import (
	"context"

	"headtrue/sweep/estimate"
)

// otherSide arrives at a place against the home direction, with all backlash taken up, and
// listens there.
func (c *Search) otherSide(ctx context.Context, v *estimate.Verdict, target float64) (estimate.Dwelt, error) {
	c.Tell("other side", "listening at %.1f degrees, reached from the other side", target)
	beyond := c.Within(target + c.HomeSide()*c.OvershootDeg())
	for _, deg := range []float64{beyond, target} {
		if err := c.GoTo(ctx, deg, false); err != nil {
			return estimate.Dwelt{}, err
		}
	}
	return c.DwellUntil(ctx, v, func(seconds, _ float64) bool { return seconds >= sideSeconds })
}
