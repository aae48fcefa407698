package sweep

import (
	"math"
	"math/rand/v2"
	"testing"

	"headtrue/sweep/tape"
)

// person is a model of a person who sets a head by hand to the middle of the dull edges. No
// source was found for a person's error. The model favours the person: the top is found at
// once and never mistaken for a side lobe, edges are found at the first try, backlash and
// gearing cost nothing, and a person with too little tape gets the tape of one pass.
//
//	to the top from as found, at handArcminPerS
//	each pass: a reading at the top; out to either side until a reading is
//	6 dB below it; back to the middle of both
//	as many passes as the tape holds; the head is set to the mean of the middles
//
// A reading takes readSeconds. Its error is the sum of the person's own error, the change of
// the material's treble over that time, and the mean of the wander. The floor under the
// treble is all of its hiss.
type person struct {
	readDB       float64 // rms
	livelyDB     float64 // rms over a reading
	wanderArcmin float64 // rms over a reading
	material     tape.Material
	hiss         float64 // of the treble's power at the top
}

const (
	handArcminPerS = 20.0 // an eighth of a turn of the usual screw
	readSeconds    = 1.0
	dullEdgeDB     = 6.0
)

// sets returns the error of the set head, arcmin, from a start and with a tape length.
func (p person) sets(r *rand.Rand, startArcmin, tapeSeconds float64) float64 {
	reading := func() float64 { return math.Hypot(p.readDB, p.livelyDB) * r.NormFloat64() }
	tapeSeconds -= math.Abs(startArcmin) / handArcminPerS
	var sum, passes float64
	for passes == 0 || tapeSeconds >= p.passSeconds() {
		top := reading()
		var middle float64
		for _, side := range []float64{-1, 1} {
			// level + reading = top - 6, at the tilt that the tape's skew adds to
			middle += (side*p.edge(dullEdgeDB+reading()-top) + p.wanderArcmin*r.NormFloat64()) / 2
		}
		sum += middle
		passes++
		tapeSeconds -= p.passSeconds()
	}
	return sum / passes
}

// edge returns the tilt at which the treble has truly fallen by db, within the main lobe.
func (p person) edge(db float64) float64 {
	want := (1 + p.hiss) * tape.PowerOf(-db)
	lo, hi := 0.0, p.material.NullArcmin()
	for range 40 {
		if mid := (lo + hi) / 2; p.material.Power(mid)+p.hiss > want {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo
}

func (p person) passSeconds() float64 { return 3*readSeconds + 4*p.edge(dullEdgeDB)/handArcminPerS }

// By hand, for one pass: the edges of 10 kHz lie 16.5' out (azimuth loss 6 dB,
// sin x = 0.501 x, x = 1.894), where the slope is 0.87 dB/arcmin
// (8.686 (cot x - 1/x) dx, dx = pi/27.27'). An error of e in each edge is
// e/0.87/sqrt(2) in the middle; 0.81' for 1 dB. The top's error falls out. That is
// for small errors: the slope grows outwards.
func TestPersonByHand(t *testing.T) {
	p := person{readDB: 1, material: tape.StereoCassette.Tone(10000)}
	if e := p.edge(6); math.Abs(e-16.46) > 0.1 {
		t.Errorf("edge at %.2f'", e)
	}
	rms := func(p person, start, seconds float64) float64 {
		r := rand.New(rand.NewPCG(5, 1))
		const runs = 4000
		var sum float64
		for range runs {
			sum += square(p.sets(r, start, seconds)) / runs
		}
		return math.Sqrt(sum)
	}
	for what, c := range map[string]struct{ got, want float64 }{
		"one pass of 1 dB":          {rms(p, 0, 0), 0.81},
		"four passes":               {rms(p, 0, 4.5*p.passSeconds()), 0.405},
		"four passes from afar":     {rms(p, 60, 3+4.5*p.passSeconds()), 0.405},
		"half a dB, a half lively":  {rms(person{readDB: 0.3, livelyDB: 0.4, material: p.material}, 0, 0), 0.405},
		"wander of 1' in each edge": {rms(person{wanderArcmin: 1, material: p.material}, 0, 0), math.Sqrt2 / 2},
	} {
		if math.Abs(c.got/c.want-1) > 0.08 {
			t.Errorf("%s: %.3f', by hand %.3f'", what, c.got, c.want)
		}
	}
}
