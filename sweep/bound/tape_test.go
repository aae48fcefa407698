package bound

import (
	"math"
	"testing"
)

// aTape: 0.6 mm tracks at 47.6 mm/s, first null of 10 kHz at 27.3', 5.5 us per
// arcminute; 20 dB in 6 to 14 kHz.
func aTape(toneHz float64) Tape {
	t := Tape{ToneHz: toneHz, Treble: Band{6000, 14000}, TrebleSNR: 100, Coherence: 0.6,
		Wander: Wander{RMSArcmin: 1, LowHz: 0.2, HighHz: 5}, ChannelDelaySDUS: 5.8, DwellSeconds: 0.25,
		USPerArcmin: 5.5, Power: func(tilt, hz float64) float64 { return sinc2(273000 / hz)(tilt) }}
	if toneHz == 0 {
		t.Fluctuations = []Fluctuation{{2, 5}, {3.9, 0.38}}
	}
	return t
}

// By hand: a tone of 10 kHz for 1 s gives 17.8 ns (see the tone's test), 0.0032';
// 5.8 us are 1.05'; flat wander of 1' leaves 0.25' in 1 s.
func TestLimitsOfAToneByHand(t *testing.T) {
	l := aTape(10000).Limits(1)
	within(t, "noise", l.Noise, 0.017794/5.5, 1e-3)
	within(t, "delay", l.Delay, math.Hypot(math.Hypot(0.00324, 0.249), 1.0545), 2e-3)
}

// By hand, for a programme of coherence 0.6 over 1 s: hiss of 20 dB leaves
// 0.6/1.01^2 = 0.58818; the level of two such channels is known to 4.343
// sqrt(1.58818/2/8000) dB; the hiss of the whole band is the floor, that of
// 400 Hz of it on a tone.
func TestReadingsOfAProgrammeByHand(t *testing.T) {
	tape := aTape(0)
	within(t, "level", tape.levelSDDB(0, 1), 0.043269, 1e-4)
	within(t, "delay", tape.Limits(1).Noise, FlatDelaySDUS(1, tape.Treble, 0.58818)/5.5, 1e-4)
	within(t, "floor of a programme", tape.floorDB(), -20, 1e-9)
	within(t, "floor of a tone", aTape(10000).floorDB(), -33.0103, 1e-6)
}

// What must hold of any tape: nothing beats the wander's floor, neither
// knowing more nor more tape ever hurts, and a perfectly known delay leaves
// noise and wander.
func TestLimitsAreInOrder(t *testing.T) {
	for _, toneHz := range []float64{0, 10000} {
		tape := aTape(toneHz)
		last := Limits{Wander: math.Inf(1), Level: math.Inf(1), Both: math.Inf(1)}
		for _, seconds := range []float64{0.5, 1, 2, 5, 10, 20} {
			l := tape.Limits(seconds)
			t.Logf("tone %5.0f Hz, %4.1f s: noise %.4f wander %.3f delay %.3f level %.3f both %.3f, unknown %.3f", toneHz, seconds, l.Noise, l.Wander, l.Delay, l.Level, l.Both, l.BothUnknown)
			if l.Both < l.Wander || l.Both > l.Delay*1.001 || l.Both > l.Level*1.001 || l.Both > l.BothUnknown || l.BothUnknown > l.Level*1.001 {
				t.Errorf("tone %g Hz, %g s: not in order: %+v", toneHz, seconds, l)
			}
			if l.Both > last.Both || l.Level > last.Level || l.Wander > last.Wander {
				t.Errorf("tone %g Hz, %g s: worse than with less tape: %+v", toneHz, seconds, l)
			}
			last = l
		}
		tape.ChannelDelaySDUS = 0
		l := tape.Limits(2)
		if l.Both > math.Hypot(l.Noise, l.Wander)*1.05 {
			t.Errorf("tone %g Hz, channel delay known: %+v", toneHz, l)
		}
		if rest := math.Hypot(l.Noise, l.Wander); math.Abs(l.Delay-rest) > 1e-12 {
			t.Errorf("tone %g Hz, channel delay known: delay %g, want %g", toneHz, l.Delay, rest)
		}
	}
}

// Half the tape spent on turns is half the tape, where nothing but noise is in the way.
func TestTurnsAreTapeInWhichNothingIsHeard(t *testing.T) {
	tape := Tape{Treble: Band{6000, 14000}, TrebleSNR: 100, Coherence: 0.6, ChannelDelaySDUS: math.Inf(1), DwellSeconds: 0.5,
		USPerArcmin: 5.5, Power: func(tilt, hz float64) float64 { return math.Exp(-square(tilt * hz / 1.5e5)) }}
	want := tape.Limits(10)
	tape.TurnSeconds = 0.5
	if got := tape.Limits(20); math.Abs(got.BothUnknown/want.BothUnknown-1) > 1e-9 || math.Abs(got.Level/want.Level-1) > 1e-9 {
		t.Errorf("20 s with turns %+v, 10 s without %+v", got, want)
	}
}
