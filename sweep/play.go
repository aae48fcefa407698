package sweep

import (
	"context"
	"math"
)

// sideSeconds is how long each side of the optimum is listened to where the play is
// asked for.
const sideSeconds = 4.0

// otherSide arrives at a place against the home direction, all slack taken up, and
// listens there.
func (c *course) otherSide(ctx context.Context, v *verdict, target float64) (dwelt, error) {
	c.tell("other side", "listening at %.1f degrees, arriving against the home side", target)
	beyond := c.within(target + c.homeSide()*float64(c.Jig.Profile().OvershootDegrees))
	for _, deg := range []float64{beyond, target} {
		if err := c.goTo(ctx, deg, false); err != nil {
			return dwelt{}, err
		}
	}
	return c.dwellUntil(ctx, v, func(seconds, _ float64) bool { return seconds >= sideSeconds })
}

// tellPlay takes the play from what was heard at one place from both sides, and
// weighs it with that of the turns. period is what a tone leaves open, arcmin, 0 of a
// programme.
func (v *verdict) tellPlay(away, home dwelt, homeSide, period float64) {
	perDeg := v.line.perDeg * homeSide
	tilt := away.tilt - home.tilt
	if period > 0 {
		expect := v.BacklashDeg * perDeg
		tilt = expect + math.Remainder(tilt-expect, period)
	}
	play, sd := tilt/perDeg, math.Hypot(away.ownSD, home.ownSD)/math.Abs(perDeg)
	if v.BacklashSDDeg == 0 { // nothing was heard of it before
		v.BacklashDeg, v.BacklashSDDeg = play, sd
		return
	}
	before, now := 1/square(v.BacklashSDDeg), 1/square(sd)
	v.BacklashDeg = (v.BacklashDeg*before + play*now) / (before + now)
	v.BacklashSDDeg = 1 / math.Sqrt(before+now)
}
