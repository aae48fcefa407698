package sweep

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"

	"headtrue/dsp"
)

// lively readings: a head that goes to and fro about a centre, with hiss under
// each band, and music that moves all bands alike by 4 dB and each by 0.7 dB.
func livelyReadings(draw *rand.Rand, n int, centre, flank float64) []curvePoint {
	floors := [bands]float64{-30, -25, -20, -12}
	points := make([]curvePoint, n)
	for i := range points {
		z := centre + flank*float64(1-2*(i%2))
		if i < 5 {
			z = centre + flank*(float64(i)/2-1)
		}
		all := 4 * draw.NormFloat64()
		levels := &[2][bands]float64{}
		for k := range bands {
			db := -30 - 4*float64(k) + all + 0.7*draw.NormFloat64() + bandLoss(k, z-centre, floors[k])
			levels[0][k], levels[1][k] = db, db
		}
		// the whole treble, over a middle that does not move: its 2nd and 3rd band
		treble := decibels(powerOf(levels[0][1]) + powerOf(levels[0][2]))
		points[i] = curvePoint{z: z, zSD: 0.1, at: 1.6 * float64(i), y: [2]float64{treble, treble}, sum: treble, sd: 0.3, bands: levels}
	}
	return points
}

func livelyInput(points []curvePoint, start float64) curveInput {
	return curveInput{points: points, scale: 1, scaleSD: 0.25, start: start, startSD: 10, weight: [2]float64{0.5, 0.5}, m: material{hz: 9000}}
}

// Where the music moves all bands alike a blend finds the centre several times
// better than the whole treble does, and is as good as it says.
func TestBlendCancelsWhatTheMusicDoes(t *testing.T) {
	const runs, centre, start = 60, 2.0, 1.0
	var whole, blended, normal float64
	for seed := range uint64(runs) {
		in := livelyInput(livelyReadings(rand.New(rand.NewPCG(seed, 1)), 25, centre, 13), start)
		c := fitCurve(in)
		if !c.ok {
			t.Fatal(c.why)
		}
		r := c.refined(in)
		if r.blend == nil {
			t.Fatalf("seed %d: no blend", seed)
		}
		whole += square(c.centre-centre) / runs
		blended += square(r.centre-centre) / runs
		normal += square((r.centre-centre)/r.centreSD) / runs
	}
	t.Logf("rms by the whole treble %.2f', by a blend %.2f', of what it says %.2f", math.Sqrt(whole), math.Sqrt(blended), math.Sqrt(normal))
	if ratio := math.Sqrt(blended / whole); ratio > 0.3 {
		t.Errorf("the blend leaves %.2f of the error, 0.3 at most wanted", ratio)
	}
	if n := math.Sqrt(normal); n < 0.7 || n > 1.25 {
		t.Errorf("the errors are %.2f of what is said", n)
	}
}

// No weights have more of an answer for what strays than those that are steered.
func TestNoWeightsTellMore(t *testing.T) {
	draw := rand.New(rand.NewPCG(3, 1))
	random := func(rows int) *mat.Dense {
		m := mat.NewDense(rows, bands, nil)
		for i := range rows {
			for k := range bands {
				m.Set(i, k, draw.NormFloat64())
			}
		}
		return m
	}
	var strays mat.SymDense
	strays.SymOuterK(1, random(bands).T())
	answers := random(7)
	tells := func(w *mat.VecDense) float64 {
		var a mat.VecDense
		a.MulVec(answers, w)
		return mat.Dot(&a, &a) / mat.Inner(w, &strays, w)
	}
	var steered mat.VecDense
	if !steer(&steered, answers, &strays) {
		t.Fatal("no weights")
	}
	best := tells(&steered)
	for range 2000 {
		near := mat.NewVecDense(bands, nil)
		near.AddScaledVec(&steered, 0.1*mat.Norm(&steered, 2)*draw.NormFloat64(), random(bands).ColView(0))
		if other := tells(near); other > best*(1+1e-9) {
			t.Fatalf("other weights tell %.4f, those steered %.4f", other, best)
		}
	}
}

// The losses laid down are those of the bands, at any tilt.
func TestBlendLossIsThatOfItsBands(t *testing.T) {
	b := &blend{weight: [bands]float64{-0.2, 0.3, -0.7, 1.1}, floorDB: [bands]float64{-30, -20, -16, -10}}
	b.layDown()
	for tilt := -30.0; tilt <= 30; tilt += 0.37 {
		var want float64
		for k, w := range b.weight {
			want += w * bandLoss(k, tilt, b.floorDB[k])
		}
		if got := b.lossDB(tilt); math.Abs(got-want) > 2e-3 {
			t.Errorf("at %.2f': %.4f dB, want %.4f", tilt, got, want)
		}
	}
}

// Sound of a low rate has no highest band: the whole treble must do.
func TestWithoutTheHighestBandThereIsNoBlend(t *testing.T) {
	points := livelyReadings(rand.New(rand.NewPCG(1, 1)), 25, 2, 13)
	for i := range points {
		for c := range 2 {
			points[i].bands[c][bands-1] = floorDB
		}
	}
	in := livelyInput(points, 1)
	if c := fitCurve(in); !c.ok || c.refined(in) != c {
		t.Errorf("%+v became %+v", c, c.refined(in))
	}
}

// The bands are thirds of an octave by IEC 61260-1, whose edges lie at 10^0.05.
func TestBandsMeetEachOther(t *testing.T) {
	for k, want := range []float64{3548, 5623, 8913, 14125} {
		low, high := bandEdges(k)
		if math.Abs(low-want) > 1 {
			t.Errorf("band %d begins at %.0f Hz, want %.0f", k, low, want)
		}
		if k+1 < bands {
			if next, _ := bandEdges(k + 1); math.Abs(next-high) > 1e-6 {
				t.Errorf("band %d ends at %.1f Hz, the next begins at %.1f", k, high, next)
			}
		}
	}
	var thirds [2][dsp.Bands]dsp.Decibels // 0 dB each
	if got := bandLevels(thirds)[1]; math.Abs(got[0]-decibels(2)) > 1e-9 || math.Abs(got[3]) > 1e-9 {
		t.Errorf("levels %v, want two thirds together in the first and one in the last", got)
	}
}
