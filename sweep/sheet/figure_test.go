package sheet

import (
	"math"
	"strconv"
	"testing"
	"time"

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

// Every label of an axis is the number at which it stands.
func TestLabelsAreTheirNumbers(t *testing.T) {
	for _, width := range []float64{0.07, 0.9, 1.1, 3, 11, 12.5, 40, 260} {
		list := ticks(-width/3, width, 5)
		if len(list) < 3 {
			t.Errorf("a width of %g has %d labels", width, len(list))
		}
		for _, k := range list {
			if said, err := strconv.ParseFloat(k.label, 64); err != nil || math.Abs(said-k.value) > 1e-9*width {
				t.Errorf("a width of %g: %q stands at %g", width, k.label, k.value)
			}
		}
	}
}

// Dates stand at midnights, or whole hours, by the clock of the bench.
func TestDatesOfAnAxis(t *testing.T) {
	zero := time.Date(2026, 11, 2, 8, 13, 0, 0, time.Local)
	for _, days := range []float64{0.01, 0.3, 2, 21, 300} {
		list := dateTicks(zero, 0, days)
		if len(list) < 2 || len(list) > 10 {
			t.Errorf("%g days have %d dates", days, len(list))
		}
		for _, k := range list {
			when := zero.Add(time.Duration(k.value * 24 * float64(time.Hour))).Round(time.Second)
			if when.Second() != 0 || days > 8 && (when.Hour() != 0 || when.Minute() != 0) {
				t.Errorf("%g days: %q stands at %v", days, k.label, when)
			}
		}
	}
}
