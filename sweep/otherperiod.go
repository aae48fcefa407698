package sweep

import (
	"context"
	"math"

	"headtrue/sweep/record"
)

// likeTrebleDB is how far a tone's level may differ from as found before the places a whole
// period away are listened to, too.
const likeTrebleDB = 1.5

// otherPeriod looks a whole period of the tone to either side where its level is not that of
// as found, and homes in where it is most like it: delay alone does not tell them apart.
func (c *course) otherPeriod(ctx context.Context, past Past, h homing) (homing, error) {
	want := past.heard()
	if h.heard != alike && h.heard != different || want == nil || h.reading == nil || h.reading.DelayPeriodUS <= 0 {
		return h, nil
	}
	unlike := func(r record.Reading) float64 { return math.Abs(r.TrebleDB - want.TrebleDB) }
	least, here := unlike(*h.reading), c.screwDeg
	if least <= likeTrebleDB {
		return h, nil
	}
	perDeg, _ := c.gearingOf(past)
	best, period := here, h.reading.DelayPeriodUS/USPerArcmin/math.Abs(perDeg)
	c.tell("restore", "the tone's level is %.1f dB from as found: looking a whole period to either side", least)
	for _, deg := range []float64{here - period, here + period} {
		if deg != max(-c.windowDeg, min(c.windowDeg, deg)) {
			continue
		}
		if err := c.goTo(ctx, deg, true); err != nil {
			return h, err
		}
		r, err := c.listen(ctx, c.plan.ProofSeconds)
		if err != nil {
			return h, err
		}
		if u := unlike(r); u < least && delayUsable(r) {
			least, best = u, deg
		}
	}
	if err := c.goTo(ctx, best, true); err != nil || best == here {
		return h, err
	}
	return c.homeIn(ctx, past, false)
}
