package estimate

import (
	"math"
	"math/rand/v2"
	"testing"

	"headtrue/sweep/record"
	"headtrue/sweep/tape"
)

// mixedSteps returns places about a centre, reached from the home side, with the treble
// of lively music and a delay that jumps because of a second source.
func mixedSteps(draw *rand.Rand, centreDeg, perDeg, jumpArcmin float64) []record.Step {
	var steps []record.Step
	for i, tilt := range []float64{-30, -18, -8, -26, -12, 0, 12, 26, -13, 13, -13, 13, -13, 13, -13, 13} {
		levels := &[2][bands]float64{}
		all := 2 * draw.NormFloat64()
		for k := range bands {
			db := -30 - 3*float64(k) + all + 0.7*draw.NormFloat64() + bandLoss(tape.StereoCassette, k, tilt, -20)
			levels[0][k], levels[1][k] = db, db
		}
		treble := -10 + all + tape.Decibels(tape.StereoCassette.Programme().Power(tilt)+0.01)
		x := tilt
		if draw.IntN(2) == 0 {
			x += jumpArcmin
		}
		steps = append(steps, record.Step{N: i + 1, AtSeconds: 1.6 * float64(i), ScrewDeg: centreDeg + tilt/perDeg, FromHome: true, Reading: record.Reading{
			Seconds: ChopSeconds, TrebleDB: treble, TrebleSDDB: 1, TrebleLR: [2]float64{treble - 3, treble - 3}, LevelDBFS: [2]float64{-20, -20},
			ThirdsDBFS: levels, DelayUS: tape.StereoCassette.Microseconds(x), DelayTrackedUS: tape.StereoCassette.Microseconds(x), TiltArcmin: x, DelaySDUS: 1, Coherence: 0.6, Usable: true}})
	}
	return steps
}

// However far the delay of a mix jumps, the treble against the screw gives the centre,
// and the widths of the bands give the gearing.
func TestTheScrewOfAMixIsPlacedByItsTreble(t *testing.T) {
	const runs, centre, perDeg = 12, 35.0, 0.31
	for _, jump := range []float64{0, 11, 45} {
		var normal float64
		for seed := range uint64(runs) {
			p := NewTask(Plan{}, 1)
			p.ByTreble = true
			v := Decide(mixedSteps(rand.New(rand.NewPCG(seed, 9)), centre, perDeg, jump), nil, record.Estimate{}, p)
			if !v.Fitted.OK || v.Optimum != v.Fitted {
				t.Fatalf("jumps of %.0f', seed %d: fitted %+v, optimum %+v", jump, seed, v.Fitted, v.Optimum)
			}
			normal += square((v.Fitted.Deg-centre)*perDeg/v.Fitted.SDArcmin) / runs
			if rel := math.Abs(v.GearingArcminPerTurn) / 360 / perDeg; math.Abs(rel-1) > 0.15 {
				t.Errorf("jumps of %.0f', seed %d: %.2f of the gearing", jump, seed, rel)
			}
		}
		if n := math.Sqrt(normal); n < 0.3 || n > 1.3 {
			t.Errorf("jumps of %.0f': errors are %.2f times what is stated", jump, n)
		}
	}
}

// A treble heard on one flank only determines no centre.
func TestOneFlankSettlesNothing(t *testing.T) {
	p := NewTask(Plan{}, 1)
	p.ByTreble = true
	var one []record.Step
	for _, s := range mixedSteps(rand.New(rand.NewPCG(1, 1)), 35, 0.31, 11) {
		if s.ScrewDeg < 40 {
			one = append(one, s)
		}
	}
	if v := Decide(one, nil, record.Estimate{}, p); v.Fitted.OK {
		t.Errorf("fitted %+v", v.Fitted)
	}
}

// A treble that no tilt changes determines no centre, however many places there are.
func TestATrebleWithoutATopSettlesNothing(t *testing.T) {
	p := NewTask(Plan{}, 1)
	p.ByTreble = true
	for seed := range uint64(10) {
		draw := rand.New(rand.NewPCG(seed, 4))
		steps := mixedSteps(draw, 35, 0.31, 11)
		for i := range steps {
			levels := steps[i].Reading.ThirdsDBFS
			for k := range bands {
				levels[0][k] = -40 + 3*draw.NormFloat64()
				levels[1][k] = levels[0][k]
			}
		}
		if v := Decide(steps, nil, record.Estimate{}, p); v.Fitted.OK {
			t.Errorf("seed %d: fitted %+v", seed, v.Fitted)
		}
	}
}

// A midpoint of few places does not contradict the treble that set the head of a mix.
func TestAMidpointOfFewPlacesIsNoContradiction(t *testing.T) {
	for mixed, want := range map[bool]float64{true: 3, false: wanderFloor} {
		p := NewTask(Plan{}, 1)
		p.ByTreble = mixed
		steps := mixedSteps(rand.New(rand.NewPCG(1, 9)), 35, 0.31, 0)
		v := Decide(steps, nil, record.Estimate{}, p)
		if !v.Midpoint.OK || v.Midpoint.SDArcmin < want || mixed && v.Midpoint.SDArcmin > 2*want {
			t.Errorf("mixed %v: %+v, want an uncertainty of %.1f' or more", mixed, v.Midpoint, want)
		}
	}
}
