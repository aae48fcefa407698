package sweep

import (
	"math"
	"math/rand/v2"
	"testing"

	"headtrue/sweep/estimate"

	"headtrue/sweep/record"
)

// The delay of a tone leaves whole periods open; the level at the place says which is
// meant. The loss is that of the azimuth of a 10 kHz tone (physics_outside_test.go holds
// it against published figures).
func TestLevelAtThePlaceTellsThePeriod(t *testing.T) {
	c := planned(Plan{ToneHz: 10000, ChannelDelaySDUS: 5.8})
	v := &estimate.Verdict{Treble: estimate.Curve{OK: true, Top: [2]float64{-9, -9}, FloorDB: [2]float64{-60, -60},
		Share: [2]float64{0.5, 0.5}, Weight: [2]float64{1, 1}, Scale: 1, CentreSD: 0.1, M: c.plan.Material()}}
	v.Line = estimate.Line{OK: true, PerDeg: 0.43}
	period := c.plan.PeriodArcmin()
	for _, truth := range []float64{0, 0.4, -3, 2 - period, 2 + period, -4 + period, -4 - period} {
		r := record.Reading{TrebleDB: v.Treble.At(truth), DelayPeriodUS: 100, Usable: true}
		off, fits := c.placeOff(v, estimate.Dwelt{All: r, Tilt: math.Remainder(truth, period)}, 0, 0.5)
		if !fits || math.Abs(off-truth) > 0.01 {
			t.Errorf("the head is %.1f' off: told %.1f', fits %v", truth, off, fits)
		}
	}
	low := record.Reading{TrebleDB: v.Treble.At(0) - 3, DelayPeriodUS: 100, Usable: true}
	if off, fits := c.placeOff(v, estimate.Dwelt{All: low, Tilt: 0.2}, 0, 0.5); fits {
		t.Errorf("a level 3 dB low that no period explains fits %.1f'", off)
	}
}

// The figure stated after as left was heard is as large as the errors are, whatever the
// two uncertainties; and a head that was moved as the blade was withdrawn is not called
// well set.
func TestAsLeftEntersTheStatedFigure(t *testing.T) {
	draw := rand.New(rand.NewPCG(1, 2))
	const runs = 20000
	for _, sd := range [][2]float64{{0.3, 0.15}, {0.15, 0.3}, {0.2, 0.2}} {
		var errors, stated float64
		for range runs {
			off := sd[0] * draw.NormFloat64()
			v := estimate.Verdict{MeasuredSDArcmin: sd[0]}
			v.Optimum.SDArcmin = sd[0]
			v.HeardAsLeft(off+sd[1]*draw.NormFloat64(), sd[1], []estimate.Creeping{{Weight: 1}})
			errors += off * off / runs
			stated += square(v.Optimum.SDArcmin) / runs
		}
		if ratio := errors / stated; ratio < 0.85 || ratio > 1.05 { // one in 370 counts as moved, which states more
			t.Errorf("place %.2f', heard to %.2f': errors are %.3f of what is stated, squared", sd[0], sd[1], ratio)
		}
	}
	v := estimate.Verdict{MeasuredSDArcmin: 0.2, TiltSDArcmin: 0.1}
	v.Optimum.SDArcmin = 0.2
	v.HeardAsLeft(2, 0.15, []estimate.Creeping{{Weight: 1}})
	if v.Optimum.SDArcmin < 2 {
		t.Errorf("heard 2' off as left, and stated to within %.2f'", v.Optimum.SDArcmin)
	}
}
