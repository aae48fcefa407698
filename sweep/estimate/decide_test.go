package estimate

import (
	"math"
	"math/rand/v2"
	"testing"

	"headtrue/sweep/record"
	"headtrue/sweep/tape"
)

// made is a head with a known centre; its steps are computed from the published formulas
// of azimuth loss and delay.
type made struct {
	centreDeg, perDeg float64 // arcmin per degree
	channelUS         float64
	toneHz            float64
	wander, noiseDB   float64
	rng               *rand.Rand
}

func (m made) step(n int, deg float64) record.Step {
	mat := tape.StereoCassette.Programme()
	if m.toneHz > 0 {
		mat = tape.StereoCassette.Tone(m.toneHz)
	}
	tilt := (deg-m.centreDeg)*m.perDeg + m.wander*m.rng.NormFloat64()
	us := tape.StereoCassette.Microseconds(tilt) + m.channelUS
	r := record.Reading{
		Seconds: 0.5, TrebleDB: -10 + tape.Decibels(mat.Power(tilt)+0.001) + m.noiseDB*m.rng.NormFloat64(),
		TrebleSDDB: m.noiseDB, DelayUS: us, DelayTrackedUS: us, DelaySDUS: 0.2, Coherence: 0.9, Usable: true,
	}
	each := r.TrebleDB - tape.Decibels(2)
	r.TrebleLR = [2]float64{each, each}
	if m.toneHz > 0 {
		r.DelayPeriodUS = 1e6 / m.toneHz
		r.DelayTrackedUS += 3 * r.DelayPeriodUS // the count of periods is arbitrary
	}
	return record.Step{N: n, AtSeconds: float64(n), ScrewDeg: deg, FromHome: true, Reading: r}
}

func (m made) across(from, to, step float64) []record.Step {
	var s []record.Step
	for deg := from; deg <= to; deg += step {
		s = append(s, m.step(len(s)+1, deg))
	}
	return s
}

func TestDecideFindsTheCentre(t *testing.T) {
	for _, c := range []struct {
		name string
		m    made
		tol  float64 // arcmin
	}{
		{"tone", made{centreDeg: 31, perDeg: 0.43, channelUS: 3, toneHz: 10000, wander: 0.5, noiseDB: 0.1}, 0.4},
		{"tone, screw turns the other way", made{centreDeg: -12, perDeg: -0.43, channelUS: -9, toneHz: 10000, wander: 0.5, noiseDB: 0.1}, 0.4},
		{"tone, soft mount", made{centreDeg: 5, perDeg: 0.17, channelUS: 0, toneHz: 12500, wander: 0.5, noiseDB: 0.1}, 0.4},
		{"programme", made{centreDeg: 20, perDeg: 0.43, channelUS: 3, wander: 0.5, noiseDB: 1.5}, 3},
	} {
		t.Run(c.name, func(t *testing.T) {
			for seed := range uint64(20) {
				c.m.rng = rand.New(rand.NewPCG(seed, 1))
				span := 28 / math.Abs(c.m.perDeg)
				p := NewTask(Plan{ToneHz: c.m.toneHz}, 1)
				v := Decide(c.m.across(c.m.centreDeg-span, c.m.centreDeg+0.9*span, span/10), nil, record.Estimate{}, p)
				if !v.Optimum.OK {
					t.Fatalf("seed %d: no optimum: %s", seed, v.Optimum.Why)
				}
				if off := (v.Optimum.Deg - c.m.centreDeg) * c.m.perDeg; math.Abs(off) > c.tol {
					t.Errorf("seed %d: optimum %.2f' off (sd %.2f')", seed, off, v.Optimum.SDArcmin)
				}
				if rel := v.GearingArcminPerTurn / 360 / c.m.perDeg; math.Abs(rel-1) > 0.06 {
					t.Errorf("seed %d: gearing %.3f of the true one", seed, rel)
				}
				if c.m.toneHz > 0 && math.Abs(v.ChannelDelayUS-c.m.channelUS) > 2 {
					t.Errorf("seed %d: channel delay %.2f us, true %.2f", seed, v.ChannelDelayUS, c.m.channelUS)
				}
				if !v.Midpoint.OK || math.Abs((v.Midpoint.Deg-c.m.centreDeg)*c.m.perDeg) > 3*c.tol+1 {
					t.Errorf("seed %d: midpoint %+v, true %.1f", seed, v.Midpoint, c.m.centreDeg)
				}
			}
		})
	}
}

// A fixed delay far beyond its stated uncertainty makes delay and treble contradict each
// other; the treble decides, and the difference is reported.
func TestContradictionIsToldAndTrebleDecides(t *testing.T) {
	m := made{centreDeg: 0, perDeg: 0.43, channelUS: 40, toneHz: 10000, wander: 0.3, noiseDB: 0.1, rng: rand.New(rand.NewPCG(1, 1))}
	p := NewTask(Plan{ToneHz: 10000, ChannelDelaySDUS: 2}, 1)
	v := Decide(m.across(-60, 60, 6), nil, record.Estimate{}, p)
	if v.Agreement != "differ" || v.AgreementWhy == "" {
		t.Errorf("agreement %q, %q", v.Agreement, v.AgreementWhy)
	}
	if off := v.Optimum.Deg * m.perDeg; math.Abs(off) > 0.4 {
		t.Errorf("optimum %.2f' off although the treble is clear", off)
	}
}

func TestNoDelayGoesByTheScrew(t *testing.T) {
	m := made{centreDeg: 10, perDeg: 0.43, toneHz: 10000, noiseDB: 0.2, rng: rand.New(rand.NewPCG(1, 1))}
	steps := m.across(-50, 70, 6)
	for i := range steps {
		steps[i].Reading.DelaySDUS, steps[i].Reading.Coherence = 90, 0.05
	}
	v := Decide(steps, nil, record.Estimate{}, NewTask(Plan{ToneHz: 10000}, 1))
	if v.DelayZero.OK || !v.Fitted.OK || math.Abs(v.Optimum.Deg-10)*m.perDeg > 0.6 {
		t.Errorf("delay zero %+v, fitted %+v, optimum %+v", v.DelayZero, v.Fitted, v.Optimum)
	}
	if v.Agreement != "partial" {
		t.Errorf("agreement %q with one view missing", v.Agreement)
	}
}
