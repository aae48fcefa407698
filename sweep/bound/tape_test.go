package bound

import (
	"math"
	"testing"
)

// aTape has 0.6 mm tracks at 47.6 mm/s, the first null of 10 kHz at 27.3', 5.5 us per
// arcminute, and 20 dB in 6 to 14 kHz.
func aTape(toneHz float64) Tape {
	t := Tape{ToneHz: toneHz, Treble: Band{6000, 14000}, TrebleSNR: 100, Coherence: 0.6,
		Wander: Wander{RMSArcmin: 1, LowHz: 0.2, HighHz: 5}, ChannelDelaySDUS: 5.8, DwellSeconds: 0.25,
		USPerArcmin: 5.5, Power: func(tilt, hz float64) float64 { return sinc2(273000 / hz)(tilt) }}
	if toneHz == 0 {
		t.Fluctuations = []Fluctuation{{2, 5}, {3.9, 0.38}}
	}
	return t
}

// By hand: a tone of 10 kHz for 1 s gives 17.8 ns (see the tone's test), 0.0032'; 5.8 us
// are 1.0545'. For a wander of 1', flat from 0.2 to 5 Hz, the bound after 5 s is 0.0188',
// by scipy (testdata/best.py; 400 cells and a noise of 0.0014468'); the even mean has
// 0.044'.
func TestLimitsOfAToneByHand(t *testing.T) {
	tape := aTape(10000)
	l := tape.Limits(5)
	within(t, "hiss and wander", l.HissAndWander, 0.01883, 0.002)
	within(t, "delay", l.Delay, math.Hypot(l.HissAndWander, 1.0545), 1e-4)
	tape.Wander.RMSArcmin = 0
	l = tape.Limits(1)
	within(t, "hiss", l.HissAndWander, 0.017794/5.5, 1e-3)
	within(t, "delay without wander", l.Delay, math.Hypot(0.00324, 1.0545), 1e-4)
}

// By hand, for a programme of coherence 0.6 over 1 s: hiss of 20 dB reduces it to
// 0.6/1.01^2 = 0.58818; the level of two such channels is known to 4.343
// sqrt(1.58818/2/8000) dB. The floor is the hiss of the whole band; for a tone, that of
// 400 Hz of it.
func TestReadingsOfAProgrammeByHand(t *testing.T) {
	tape := aTape(0)
	within(t, "level", tape.levelSDDB(0, 1), 0.043269, 1e-4)
	within(t, "delay", tape.delaySDArcmin(0, 1), FlatDelaySDUS(1, tape.Treble, 0.58818)/5.5, 1e-4)
	within(t, "floor of a programme", tape.floorDB(), -20, 1e-9)
	within(t, "floor of a tone", aTape(10000).floorDB(), -33.0103, 1e-6)
}

// For any tape: neither more knowledge nor more tape ever increases a bound, and with a
// perfectly known fixed delay, hiss and wander remain.
func TestLimitsAreInOrder(t *testing.T) {
	for _, toneHz := range []float64{0, 10000} {
		tape := aTape(toneHz)
		last := Limits{HissAndWander: math.Inf(1), Level: math.Inf(1), Both: math.Inf(1)}
		for _, seconds := range []float64{0.5, 1, 2, 5, 10, 20} {
			l := tape.Limits(seconds)
			t.Logf("tone %5.0f Hz, %4.1f s: hiss and wander %.4f (mean %.3f) delay %.3f level %.3f both %.3f, unknown %.3f", toneHz, seconds,
				l.HissAndWander, tape.Wander.MeanSDArcmin(seconds), l.Delay, l.Level, l.Both, l.BothUnknown)
			if l.HissAndWander > l.Delay || l.Both > l.Delay || l.Both > l.Level*1.001 || l.Both > l.BothUnknown*1.001 || l.BothUnknown > l.Level*1.001 {
				t.Errorf("tone %g Hz, %g s: not in order: %+v", toneHz, seconds, l)
			}
			if l.Both > last.Both || l.Level > last.Level || l.HissAndWander > last.HissAndWander {
				t.Errorf("tone %g Hz, %g s: worse than with less tape: %+v", toneHz, seconds, l)
			}
			last = l
		}
		tape.ChannelDelaySDUS = 0
		if l := tape.Limits(2); l.Both > l.HissAndWander || l.Delay != l.HissAndWander {
			t.Errorf("tone %g Hz, channel delay known: %+v", toneHz, l)
		}
	}
}

// If only noise limits the result, tape spent half on turns counts as half the tape.
func TestTurnsAreTapeInWhichNothingIsHeard(t *testing.T) {
	tape := Tape{Treble: Band{6000, 14000}, TrebleSNR: 100, Coherence: 0.6, ChannelDelaySDUS: math.Inf(1), DwellSeconds: 0.5,
		USPerArcmin: 5.5, Power: func(tilt, hz float64) float64 { return math.Exp(-square(tilt * hz / 1.5e5)) }}
	want := tape.Limits(10)
	tape.TurnSeconds = 0.5
	if got := tape.Limits(20); math.Abs(got.BothUnknown/want.BothUnknown-1) > 1e-9 || math.Abs(got.Level/want.Level-1) > 1e-9 {
		t.Errorf("20 s with turns %+v, 10 s without %+v", got, want)
	}
}
