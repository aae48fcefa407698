package sweep

import (
	"fmt"
	"math"

	"headtrue/sweep/record"
)

// checkArrived stops the run where the head was not heard to come along on the last way to
// its place, far though that was: the blade has left its slot or the coupling has slipped
// since, and what the place sounds like is not what it is.
func (c *course) checkArrived(v *verdict, r record.Reading) error {
	const still = 2 // arcmin
	from, expect := c.farFrom(v, r)
	if from == nil {
		return nil
	}
	change := math.Abs(tiltBetween(r, from.Reading))
	if change > still || change > expect/4 {
		return nil
	}
	return &stop{outcome: record.NotFollowing,
		say: fmt.Sprintf("the sound does not follow the screw any more: on the last way, of %.0f degrees, the head was heard to turn by %.1f'", math.Abs(c.screwDeg-from.ScrewDeg), change),
		do:  "look whether the blade has left its slot or the coupling slips, then restore; force nothing"}
}

// farFrom is the latest step so far from where the screw now stands that a head which
// follows must sound otherwise, and by how many arcmin at least; nil where there is none.
func (c *course) farFrom(v *verdict, r record.Reading) (from *record.Step, expect float64) {
	const clear, wrong = 6, 3 // arcmin: a change to be heard, and what a gearing may be wrong by
	perDeg := math.Abs(v.GearingArcminPerTurn) / 360
	if !delayUsable(r) {
		return nil, 0
	}
	for i := len(c.steps) - 1; i >= 0; i-- {
		s := &c.steps[i]
		whole := math.Abs(c.screwDeg-s.ScrewDeg) * perDeg
		if period := c.plan.openPeriodArcmin(r); period > 0 && whole > period-wrong {
			continue // a whole period would sound alike
		}
		expect = whole - max(2*usualPlayDeg, v.BacklashDeg)*perDeg
		if expect > clear && delayUsable(s.Reading) {
			return s, expect
		}
	}
	return nil, 0
}

// openPeriodArcmin is the tilt of a whole period where the tone of a reading leaves that
// open; 0 where nothing is open.
func (p Plan) openPeriodArcmin(r record.Reading) float64 {
	if r.DelayPeriodUS <= 0 {
		return 0
	}
	return p.periodArcmin()
}
