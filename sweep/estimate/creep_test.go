package estimate

import (
	"math"
	"math/rand/v2"
	"testing"
)

// A copy that lags by a time constant is behind a step by exp(-t/constant) of it, and behind
// a ramp of rate r by r constant (1 - exp(-t/constant)): textbook, a first-order lag.
func TestBehindIsAFirstOrderLag(t *testing.T) {
	const constant = 4.0
	step := []Whereabouts{{1, 0}, {1.0001, 10}}
	if got, want := behind(step, constant, 5), -10*math.Exp(-4/constant); math.Abs(got-want) > 0.01 {
		t.Errorf("behind a step %.3f degrees, %.3f expected", got, want)
	}
	ramp := []Whereabouts{{0, 0}, {6, 12}}
	if got, want := behind(ramp, constant, 6), -2*constant*(1-math.Exp(-6/constant)); math.Abs(got-want) > 0.01 {
		t.Errorf("behind a ramp %.3f degrees, %.3f expected", got, want)
	}
	further := append(ramp, Whereabouts{8, -30}, Whereabouts{9, 40})
	if got, want := behind(further, constant, 6), behind(ramp, constant, 6); got != want {
		t.Errorf("behind a ramp %.3f degrees, %.3f with a later drive", want, got)
	}
	if got := behind(ramp, constant, 100); math.Abs(got) > 0.01 {
		t.Errorf("behind after 94 s at rest: %.3f degrees", got)
	}
}

// If heads creep as often and as much as the prior assumes, the figure stated as left is
// as large as the error at rest. A head that clearly creeps is reported.
func TestCreepEntersTheStatedFigure(t *testing.T) {
	const place, sd, runs = 0.2, 0.15, 20000
	draw := rand.New(rand.NewPCG(3, 9))
	may := []Creeping{{Weight: 0.7}, {0.15, -0.4, -0.2}, {0.15, -1, -0.6}}
	var errors, stated float64
	for range runs {
		is, u := may[0], draw.Float64()
		for _, c := range may[1:] {
			if u -= c.Weight; u < 0 {
				is = c
				break
			}
		}
		first := place * draw.NormFloat64() // error of the place as set by the first reading
		v := Verdict{MeasuredSDArcmin: place}
		v.Optimum.SDArcmin = place
		v.HeardAsLeft(first+is.left-is.first+sd*draw.NormFloat64(), sd, may)
		errors += square(first-is.first) / runs
		stated += square(v.Optimum.SDArcmin) / runs
	}
	if ratio := errors / stated; ratio < 0.85 || ratio > 1.3 { // creep that the reading does not favour is left out
		t.Errorf("errors are %.3f of what is stated, squared", ratio)
	}
	v := Verdict{MeasuredSDArcmin: 0.1}
	v.HeardAsLeft(0.6, 0.1, []Creeping{{Weight: 0.85}, {0.15, -1, -0.4}})
	if math.Abs(v.creepsArcmin-0.4) > 0.01 || v.MeasuredSDArcmin < 0.4 {
		t.Errorf("a head with 0.4' to go: %.2f', stated %.2f'", v.creepsArcmin, v.MeasuredSDArcmin)
	}
}
