package sheet

import (
	"math"
	"testing"

	"headtrue/sweep/record"
)

// With a delay of 100 us at zero degrees and 2 us less per degree, the line has these values;
// the points of a tone are shifted by whole periods to within half a period of it.
func TestTheDelayLineIsWhereTheDelaysAre(t *testing.T) {
	p := sortOut(run())
	p.decision.DelayZero = record.Estimate{Deg: 50, OK: true}
	p.decision.GearingArcminPerTurn = -2 * 360 / 5.5
	for i := range p.steps {
		r := &p.steps[i].Reading
		r.TiltArcmin, r.DelayTrackedUS = r.DelayUS/5.5, r.DelayUS
	}
	far := func(f *Figure) (most float64, places int) {
		for _, set := range f.points {
			for _, xy := range set.xys {
				most, places = max(most, math.Abs(xy.Y-(100-2*xy.X))), places+1
			}
		}
		return most, places
	}
	f := delayFigure(p)
	if most, places := far(f); most > 1e-9 || places != 14 {
		t.Errorf("%d places, up to %g us off", places, most)
	}
	for _, xy := range f.lines[0].xys {
		if off := xy.Y - (100 - 2*xy.X); math.Abs(off) > 1e-9 {
			t.Errorf("the line is %g us off at %g degrees", off, xy.X)
		}
	}
	for i := range p.steps {
		r := &p.steps[i].Reading
		r.DelayPeriodUS, r.DelayUS = 80, math.Remainder(r.DelayUS, 80)
		r.TiltArcmin = r.DelayUS / 5.5
	}
	// Points more than half the width of the dull edges beyond them are left out.
	if most, places := far(delayFigure(p)); most > 1e-9 || places != 12 {
		t.Errorf("on a tone: %d places, up to %g us off", places, most)
	}
}
