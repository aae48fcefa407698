package estimate

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"headtrue/dsp"
	"headtrue/sweep/tape"
)

// livelyReadings returns readings of a head that moves back and forth about a centre, with
// hiss in each band, and music that changes all bands together by 4 dB, each by 0.7 dB.
func livelyReadings(draw *rand.Rand, n int, centre, flank float64) []curvePoint {
	floors := [bands]float64{-30, -28, -26, -24, -22, -18, -14}
	points := make([]curvePoint, n)
	for i := range points {
		z := centre + flank*float64(1-2*(i%2))
		if i < 5 {
			z = centre + flank*(float64(i)/2-1)
		}
		all := 4 * draw.NormFloat64()
		levels := &[2][bands]float64{}
		for k := range bands {
			db := -30 - 3*float64(k) + all + 0.7*draw.NormFloat64() + bandLoss(tape.StereoCassette, k, z-centre, floors[k])
			levels[0][k], levels[1][k] = db, db
		}
		// the whole treble, with a fixed middle frequency: 6.3 to 12.5 kHz
		treble := tape.Decibels(tape.PowerOf(levels[0][2]) + tape.PowerOf(levels[0][3]) + tape.PowerOf(levels[0][4]) + tape.PowerOf(levels[0][5]))
		points[i] = curvePoint{z: z, zSD: 0.1, at: 1.6 * float64(i), seconds: ChopSeconds, y: [2]float64{treble, treble}, sum: treble, sd: 0.3, bands: levels}
	}
	return points
}

func livelyInput(points []curvePoint, start float64) curveInput {
	return curveInput{points: points, scale: 1, scaleSD: 0.25, start: start, startSD: 10, weight: [2]float64{0.5, 0.5}, m: tape.StereoCassette.Programme()}
}

// If the music changes all bands together, their joint fit finds the centre several times
// better than the whole treble does, and its stated uncertainty matches its error.
func TestMultibandTakesOutWhatTheMusicDoes(t *testing.T) {
	const runs, centre, start = 100, 2.0, 1.0
	var whole, both, normal float64
	for seed := range uint64(runs) {
		in := livelyInput(livelyReadings(rand.New(rand.NewPCG(seed, 1)), 15, centre, 13), start)
		c := fitCurve(in)
		if !c.OK {
			t.Fatal(c.why)
		}
		r := c.refined(in)
		if r.Multiband == nil {
			t.Fatalf("seed %d: the bands together say nothing", seed)
		}
		whole += square(c.Centre-centre) / runs
		both += square(r.Centre-centre) / runs
		normal += square((r.Centre-centre)/r.CentreSD) / runs
	}
	t.Logf("rms by the whole treble %.2f', together %.2f', of what they say %.2f", math.Sqrt(whole), math.Sqrt(both), math.Sqrt(normal))
	if ratio := math.Sqrt(both / whole); ratio > 0.25 {
		t.Errorf("%.2f of the error by the whole treble, want a quarter or less", ratio)
	}
	// the prior counts for 6 readings and is wider than the strays of this music
	if n := math.Sqrt(normal); n < 0.4 || n > 1.1 {
		t.Errorf("errors are %.2f times what is stated, want 0.4 to 1.1", n)
	}
}

// The slopes and residuals of the linear problem match those of the cost everywhere.
func TestMultibandGoesDownhill(t *testing.T) {
	draw := rand.New(rand.NewPCG(3, 3))
	in := livelyInput(livelyReadings(draw, 15, 2, 13), 1)
	in.tiltScaleSD = 0.2
	fitted := newMultiband(in)
	for range 20 {
		p := make([]float64, multibandParameters)
		p[0] = 4 * draw.NormFloat64()
		for k := range bands {
			p[1+k] = -18 + 6*draw.NormFloat64()
		}
		p[parTiltScale] = 0.2 * draw.NormFloat64()
		s, ok := fitted.at(p)
		if !ok {
			t.Fatalf("%.1f make no sense", p)
		}
		slopes, residuals := fitted.linear(s)
		for i := range p {
			const step = 1e-4
			up, down := slices.Clone(p), slices.Clone(p)
			up[i], down[i] = p[i]+step, p[i]-step
			above, _ := fitted.at(up)
			below, _ := fitted.at(down)
			want := (above.cost - below.cost) / (2 * step)
			var got float64
			for row, r := range residuals {
				got += 2 * slopes.At(row, i) * r
			}
			if math.Abs(got-want) > 1e-3*(1+math.Abs(want)) {
				t.Errorf("parameter %d of %.1f: the cost goes by %.5f, the linear problem by %.5f", i, p, want, got)
			}
		}
	}
}

// Sound of a low sample rate has no highest band: the fit uses the whole treble.
func TestWithoutTheHighestBandTheWholeTrebleMustDo(t *testing.T) {
	points := livelyReadings(rand.New(rand.NewPCG(1, 1)), 15, 2, 13)
	for i := range points {
		for c := range 2 {
			points[i].bands[c][bands-1] = FloorDB
		}
	}
	in := livelyInput(points, 1)
	if c := fitCurve(in); !c.OK || c.refined(in) != c {
		t.Errorf("%+v became %+v", c, c.refined(in))
	}
}

// A stay gives information about the centre where the bands slope, none at the top, and
// more if the music strays less.
func TestAStayTellsMostOnTheFlanks(t *testing.T) {
	f := newMultiband(livelyInput(livelyReadings(rand.New(rand.NewPCG(5, 5)), 15, 2, 13), 1)).fit(1)
	if f == nil {
		t.Fatal("no fit")
	}
	if top, flank := f.Tells(0), f.Tells(12); top > 1e-6*flank || flank < 0.1 {
		t.Errorf("a stay tells %.3g at the top and %.3g at 12', want nothing and much", top, flank)
	}
}

// The bands are thirds of an octave by IEC 61260-1, with edges at 10^0.05.
func TestBandsMeetEachOther(t *testing.T) {
	for k, want := range []float64{3548, 4467, 5623, 7079, 8913, 11220, 14125} {
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
	var thirds [2][dsp.Bands]dsp.Decibels
	thirds[1][dsp.Bands-1], thirds[1][dsp.Bands-bands] = -3, -5
	if got := BandLevels(thirds)[1]; got[0] != -5 || got[bands-1] != -3 {
		t.Errorf("levels %v, want the highest thirds", got)
	}
}
