package dsp

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"headtrue/dsp/audio"
)

// several plays tones, each of the amplitude, to both channels: right comes later by us,
// and each tone's phase between the channels is off by its own degrees. Speed is
// relative; flutter is the peak at 8 Hz.
func several(r *rand.Rand, n int, hz []float64, amplitude, us, speed, flutter, hissDB float64, degrees []float64) stereo {
	hum := toneOf(n, 50, 0.2*amplitude, 0, 0, 0)
	hiss := hissUnder(amplitude, hissDB)
	s := stereo{plus(hum, white(r, n, hiss)), plus(hum, white(r, n, hiss))}
	for i, f := range hz {
		f *= 1 + speed
		start := 360 * r.Float64()
		s.left = plus(s.left, toneOf(n, f, amplitude, start, flutter, 8))
		s.right = plus(s.right, toneOf(n, f, amplitude, start-360*f*us*1e-6-degrees[i], flutter, 8))
	}
	return s
}

// Levels, phases and the one delay of four tones with speed error, flutter, hum and hiss.
// 0.3 % of flutter weighted, as an rms, would be 0.49 % at the peak of 8 Hz (weight there
// about -1.3 dB, AES6-2008).
func TestSeveralTones(t *testing.T) {
	hz := []float64{10000, 1000, 6300, 12500}
	m := NewMeter(testRate, hz[0], hz[1:]...)
	for _, speed := range []float64{-0.03, 0, 0.03} {
		for _, flutter := range []float64{0, 0.005} {
			for _, us := range []float64{-330, -77, 0, 120, 330} {
				m.Reset()
				got := heard(m, several(random(uint64(us+1000)), testRate/2, hz, 0.1, us, speed, flutter, 30, make([]float64, 4)))
				where := func() { t.Errorf("speed %v, flutter %v, %v us: %+v", speed, flutter, us, got) }
				if got.DelayPeriod != 0 || math.Abs(float64(got.Delay)-us) > 0.15 || got.DelaySD > 0.1 || got.Gated != 0 {
					where()
				}
				tones := [4]Tone{{got.ToneHz, got.Tone, got.TonePhaseDeg, got.TonePhaseSDDeg}, got.Others[0], got.Others[1], got.Others[2]}
				for i, tone := range tones {
					f := hz[i] * (1 + speed)
					phase := math.Remainder(tone.PhaseDeg-360*f*us*1e-6, 360)
					if math.Abs(tone.Hz/f-1) > 0.001 || math.Abs(phase) > 0.4 || math.Abs(float64(tone.Level[0])+20) > 0.03 || math.Abs(float64(tone.Level[1])+20) > 0.03 {
						where()
					}
				}
				if got.Others[3] != (Tone{}) {
					where()
				}
				close(t, "tone to noise", float64(got.ToneToNoise[0]), 30, 0.5)
			}
		}
	}
}

// How many readings of 0.1 s settle on a wrong count of turns, and how many report that
// they cannot settle it: delays within 150 us, speed within 3 %, flutter, hum, the lowest
// tone's phase between the channels off by the given degrees to either side, the others'
// by up to 5. A turn of 10 kHz is 36 degrees at 1 kHz, so a mismatch of half that is
// indistinguishable from a wrong count, and one near all of it counts as the next.
func TestTurnsAreCountedRightOrNotAtAll(t *testing.T) {
	for _, test := range []struct {
		hz               []float64
		snrDB, degrees   float64
		trials           int
		wrong, unsettled [2]int // least and most
	}{
		{[]float64{10000, 1000}, 20, 5, 1000, [2]int{}, [2]int{}},
		{[]float64{10000, 1000}, 20, 10, 100, [2]int{}, [2]int{}},
		{[]float64{10000, 1000}, 20, 15, 100, [2]int{}, [2]int{25, 100}},
		{[]float64{10000, 1000}, 20, 20, 100, [2]int{}, [2]int{95, 100}},
		{[]float64{10000, 1000}, 20, 36, 100, [2]int{75, 100}, [2]int{0, 25}},
		{[]float64{10000, 1000}, 0, 5, 100, [2]int{}, [2]int{0, 5}},
		{[]float64{10000, 1000, 6300, 12500}, 20, 15, 100, [2]int{}, [2]int{}},
		{[]float64{10000, 6300, 12500}, 20, 5, 100, [2]int{}, [2]int{0, 40}}, // 640 us fits nearly as well as none
		{[]float64{10000, 3150}, 20, 5, 100, [2]int{}, [2]int{75, 100}},
	} {
		m := NewMeter(testRate, test.hz[0], test.hz[1:]...)
		wrong, unsettled := 0, 0
		for seed := range uint64(test.trials) {
			switch got, us := mismatched(m, random(seed+4000), test.hz, test.snrDB, test.degrees); {
			case got.DelayPeriod != 0:
				unsettled++
			case math.Abs(float64(got.Delay)-us) > 20:
				wrong++
			}
		}
		t.Logf("%v Hz, %v dB, lowest off by %v degrees: %d wrong, %d not settled of %d", test.hz, test.snrDB, test.degrees, wrong, unsettled, test.trials)
		if wrong < test.wrong[0] || wrong > test.wrong[1] || unsettled < test.unsettled[0] || unsettled > test.unsettled[1] {
			t.Errorf("want %v wrong, %v not settled", test.wrong, test.unsettled)
		}
	}
}

// mismatched measures 0.1 s of tones whose channels do not match, and returns the true
// delay too.
func mismatched(m *Meter, r *rand.Rand, hz []float64, snrDB, lowestDegrees float64) (Reading, float64) {
	us := 300*r.Float64() - 150
	degrees := make([]float64, len(hz))
	for i := range degrees {
		degrees[i] = 10*r.Float64() - 5
	}
	degrees[slices.Index(hz, slices.Min(hz))] = lowestDegrees * float64(1-2*r.IntN(2))
	m.Reset()
	return heard(m, several(r, testRate/10, hz, 0.1, us, 0.06*r.Float64()-0.03, 0.003, snrDB, degrees)), us
}

// A dull top tone is left out, a single remaining tone settles nothing, and an inverted
// channel fits no delay.
func TestTonesThatCannotSettleTheDelay(t *testing.T) {
	m := NewMeter(testRate, 10000, 1000, 6300)
	hear := func(change func(s stereo) stereo) Reading {
		m.Reset()
		r := random(7)
		s := stereo{white(r, testRate/2, 0.001), white(r, testRate/2, 0.001)}
		for _, f := range []float64{1000, 6300} {
			x := toneOf(testRate/2, f, 0.1, 0, 0, 0)
			s = stereo{plus(s.left, x), plus(s.right, filtered(x, delay(120)))}
		}
		return heard(m, change(s))
	}
	got := hear(func(s stereo) stereo { return s })
	if got.DelayPeriod != 0 || math.Abs(float64(got.Delay)-120) > 0.1 || got.TonePhaseSDDeg < 5 {
		t.Errorf("10 kHz gone: delay %v us with period %v", got.Delay, got.DelayPeriod)
	}
	got = hear(func(s stereo) stereo { return stereo{s.left, times(s.right, -1)} })
	if got.DelayPeriod == 0 {
		t.Errorf("right upside down: delay %v us is called settled", got.Delay)
	}
	low := func(hz float64) complex128 {
		if hz > 3000 {
			return 0
		}
		return 1
	}
	got = hear(func(s stereo) stereo { return stereo{filtered(s.left, low), filtered(s.right, low)} })
	if got.DelayPeriod == 0 {
		t.Errorf("only 1 kHz left: delay %v us is called settled", got.Delay)
	}
}

// A reading too short for its scatter has an unknown standard error, never above
// UnknownSD.
func TestSeveralTonesInAMoment(t *testing.T) {
	m := NewMeter(testRate, 10000, 1000)
	r := heard(m, several(random(5), 6*testRate/100, []float64{10000, 1000}, 0.1, 100, 0, 0, 60, []float64{0, 0}))
	if r.DelayPeriod != 0 || r.DelaySD != UnknownSD {
		t.Errorf("period %v us, standard error %g us; want 0, and %g for not known", r.DelayPeriod, r.DelaySD, float64(UnknownSD))
	}
}

// The error of the delay by several tones over its standard error, and over its bound:
// phases with the variances of Kay (1993, from memory; see TestToneReachesItsBounds)
// weighted by frequency, var >= 1/sum(omega²/var phase). A standard error from 11 batches
// makes the mean square of the first 10/8.
func TestSeveralTonesReachTheirBoundAndKnowIt(t *testing.T) {
	const trials, n, amplitude = 300, testRate / 4, 0.1
	hz := []float64{10000, 1000, 6300, 12500}
	m := NewMeter(testRate, hz[0], hz[1:]...)
	var squares, overSD float64
	s := hissUnder(amplitude, 20)
	clean := several(random(300), n, hz, amplitude, 40, 0, 0, 200, make([]float64, 4))
	for seed := range uint64(trials) {
		r := random(seed + 300)
		m.Reset()
		got := heard(m, stereo{plus(clean.left, white(r, n, s)), plus(clean.right, white(r, n, s))})
		off := float64(got.Delay) - 40
		squares += off * off / trials
		overSD += off * off / float64(got.DelaySD*got.DelaySD) / trials
	}
	var omegas float64
	for _, f := range hz {
		omegas += math.Pow(2*math.Pi*f, 2)
	}
	ratio := math.Sqrt(squares) / (math.Sqrt(4*s*s/(amplitude*amplitude*n)/omegas) * 1e6)
	low, high := chiSquaredLimits(trials)
	cost, _ := hannCosts(n)
	t.Logf("rms %.4f us, %.3f of the bound, of which the window costs %.3f; mean square over standard error %.2f", math.Sqrt(squares), ratio, cost, overSD)
	if math.Abs(ratio/cost-1) > 0.12 { // 300 trials determine an rms to 4.1 %
		t.Errorf("%.3f of the bound, want %.3f", ratio, cost)
	}
	if overSD < low || overSD > high*10/8 {
		t.Errorf("mean square of error over standard error %.2f, want 10/8 (%.2f to %.2f)", overSD, low, high*10/8)
	}
}

func TestSeveralTonesAllocateNothingPerBlock(t *testing.T) {
	s := several(random(9), testRate, []float64{10000, 1000}, 0.1, 10, 0, 0, 20, []float64{0, 0})
	m, at := NewMeter(testRate, 10000, 1000, 6300, 12500), 0
	allocs := testing.AllocsPerRun(100, func() {
		m.Add(audio.Block{Start: m.next, Left: s.left[at : at+1024], Right: s.right[at : at+1024]})
		at = (at + 1024) % (testRate - 1024)
	})
	if allocs != 0 {
		t.Errorf("%v allocations per block", allocs)
	}
}

func TestMetersThatCannotBe(t *testing.T) {
	for name, make := range map[string]func(){
		"a tone above half the rate":    func() { NewMeter(testRate, 24000) },
		"others without a main tone":    func() { NewMeter(testRate, 0, 1000) },
		"another above half the rate":   func() { NewMeter(testRate, 1000, 30000) },
		"more tones than it listens to": func() { NewMeter(testRate, 1000, 2000, 3000, 4000, 5000, 6000) },
	} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%s: no panic", name)
				}
			}()
			make()
		}()
	}
}
