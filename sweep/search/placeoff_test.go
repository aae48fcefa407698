package search

import (
	"math"
	"testing"

	"headtrue/sweep/estimate"
	"headtrue/sweep/record"
)

// The delay of a tone leaves whole periods open; the level at the place selects one. The
// loss is the azimuth loss of a 10 kHz tone (physics_outside_test.go checks it against
// published figures).
func TestLevelAtThePlaceTellsThePeriod(t *testing.T) {
	c := plannedSearch(estimate.Plan{ToneHz: 10000, ChannelDelaySDUS: 5.8})
	v := &estimate.Verdict{Treble: estimate.Curve{OK: true, Top: [2]float64{-9, -9}, FloorDB: [2]float64{-60, -60},
		Share: [2]float64{0.5, 0.5}, Weight: [2]float64{1, 1}, Scale: 1, CentreSD: 0.1, M: c.Plan.Material()}}
	v.Line = estimate.Line{OK: true, PerDeg: 0.43}
	period := c.Plan.PeriodArcmin()
	for _, truth := range []float64{0, 0.4, -3, 2 - period, 2 + period, -4 + period, -4 - period} {
		r := record.Reading{TrebleDB: v.Treble.At(truth), DelayPeriodUS: 100, Usable: true}
		off, fits := c.material.placeOff(v, estimate.Dwelt{All: r, Tilt: math.Remainder(truth, period)}, 0, 0.5)
		if !fits || math.Abs(off-truth) > 0.01 {
			t.Errorf("the head is %.1f' off: told %.1f', fits %v", truth, off, fits)
		}
	}
	low := record.Reading{TrebleDB: v.Treble.At(0) - 3, DelayPeriodUS: 100, Usable: true}
	if off, fits := c.material.placeOff(v, estimate.Dwelt{All: low, Tilt: 0.2}, 0, 0.5); fits {
		t.Errorf("a level 3 dB low that no period explains fits %.1f'", off)
	}
}
