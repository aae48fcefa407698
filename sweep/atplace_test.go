package sweep

import (
	"math/rand/v2"
	"testing"

	"headtrue/sweep/estimate"
)

// The stated uncertainty after the as-left reading equals the errors for all ratios of the
// two uncertainties; a head that moved as the blade was withdrawn is not called well set.
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
		if ratio := errors / stated; ratio < 0.85 || ratio > 1.05 { // one in 370 counts as moved, which raises the stated figure
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
