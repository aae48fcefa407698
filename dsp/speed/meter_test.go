package speed

import (
	"math"
	"testing"

	"headtrue/dsp"
	"headtrue/dsp/audio"
)

// A sine deviation of 0.1 % reads 0.0997 % at 4 Hz (a sine exceeds 0.997 of its peak for 5 %
// of the time) and the published attenuation beside it, for carriers from 315 Hz to 15 kHz,
// at -40 dBFS with noise 40 dB below. The unweighted rms is 0.0707 %.
func TestSineFlutterReadsAsPublished(t *testing.T) {
	for _, carrier := range []float64{315, 3150, 15000} {
		for _, row := range published {
			hz, down := row[0], row[1]
			if hz < 0.4 || testing.Short() && hz != 4 && hz != 40 {
				continue
			}
			x := tone(testRate, 16, carrier, 0.01, wobble{0.1, hz})
			r := heard(carrier, hissed(x, 1, 0.0001/math.Sqrt2), hissed(x, 2, 0.0001/math.Sqrt2))
			if r.Flutter == nil {
				t.Fatalf("%v Hz: no flutter from %.1f s", carrier, r.FlutterSeconds)
			}
			want := 0.0997 * math.Pow(10, down/20)
			tolerance := 0.07 * want // 0.6 dB
			if hz == 4 {
				tolerance = 0.0003
			}
			floor := 0.005 * 315 / carrier // noise
			near(t, "weighted", r.Flutter.WeightedPeak, want, tolerance+floor)
			if hz >= 0.63 {
				near(t, "unweighted", r.Flutter.RMS, 0.0707, 0.0007+1.5*floor)
			}
			if t.Failed() {
				t.Fatalf("carrier %v Hz, flutter of %v Hz: %+v", carrier, hz, *r.Flutter)
			}
		}
	}
}

// The floor: a tone without flutter, with white noise 40 dB below it in the whole band of 24
// kHz, independent in the channels, reads less than these figures; without noise, nothing.
func TestFloorOfFlutter(t *testing.T) {
	for _, test := range []struct{ carrier, weighted, rms float64 }{{315, 0.006, 0.035}, {3150, 0.0006, 0.0035}, {10000, 0.0002, 0.0011}} {
		x := tone(testRate, 13, test.carrier, 0.01)
		r := heard(test.carrier, hissed(x, 1, 0.0001/math.Sqrt2), hissed(x, 2, 0.0001/math.Sqrt2))
		if r.Flutter.WeightedPeak > test.weighted || r.Flutter.RMS > test.rms {
			t.Errorf("%v Hz: %+v", test.carrier, *r.Flutter)
		}
		if r.Flutter.RMS < test.rms/2 {
			t.Errorf("%v Hz: %.4f %% rms is far below the stated floor", test.carrier, r.Flutter.RMS)
		}
		if r = heard(test.carrier, x, x); r.Flutter.RMS > 1e-6 {
			t.Errorf("%v Hz without noise: %+v", test.carrier, *r.Flutter)
		}
	}
}

// Speed, levels and balance of a tone that is 1.5 % fast, and the correction by a true rate.
func TestSpeedAndLevels(t *testing.T) {
	x, y := tone(testRate, 12, 3150*1.015, 0.1, wobble{0.2, 0.9}), tone(testRate, 12, 3150*1.015, 0.05, wobble{0.2, 0.9})
	r := heard(3150, x, y)
	near(t, "speed", r.SpeedPercent.Value, 1.5, 3*r.SpeedPercent.SD)
	near(t, "its uncertainty", r.SpeedPercent.SD, 0.005, 0.0049)
	near(t, "carrier", r.CarrierHz, 3197.25, 0.5)
	near(t, "left", float64(r.Level[0]), -20, 0.01)
	near(t, "right", float64(r.Level[1]), -26.02, 0.01)
	near(t, "balance", *r.BalanceDB, 6.02, 0.01)
	m := New(Settings{RateHz: testRate, NominalHz: 3150, RateFactor: 1.0001})
	add(m, x, y)
	near(t, "speed by the true rate", m.Result().SpeedPercent.Value-r.SpeedPercent.Value, 0.01015, 1e-4)
}

// The stated uncertainty of the speed holds for 10 s of wow and flutter of 1/f from 0.05 to
// 100 Hz: the mean of (error / stated)^2 lies between 0.4 and 1.6. (Slower wander makes it
// grow, if the error is that against the speed of a longer piece: no 10 s can show that.)
func TestSpeedKeepsItsUncertainty(t *testing.T) {
	runs, sum := uint64(200), 0.0
	if testing.Short() {
		runs = 40
	}
	for seed := range runs {
		const rate, hz = 8000, 1000
		deviation := pink(100+seed, 10*rate, rate)
		x := make([]float64, len(deviation))
		turns := 0.0
		for i, d := range deviation {
			x[i] = 0.1 * math.Sin(2*math.Pi*turns)
			turns += hz * (1.015 + 0.001*d) / rate
		}
		m := New(Settings{RateHz: rate, NominalHz: hz})
		add(m, x, x)
		r := m.Result()
		pull := (r.SpeedPercent.Value - 1.5) / r.SpeedPercent.SD
		sum += pull * pull
	}
	mean := sum / float64(runs)
	t.Logf("mean of (error/stated)^2: %.2f", mean)
	if mean < 0.4 || mean > 1.6 {
		t.Errorf("mean of (error/stated)^2: %.2f", mean)
	}
}

// A head that turns shifts the phases in opposite directions: no flutter. The same shifts
// in the same direction are flutter, as a check of the test. The swing is 2 radians at 3 Hz,
// at 10 kHz 0.06 % peak.
func TestTurningHeadIsNoFlutter(t *testing.T) {
	shifted := func(sign float64) []float64 {
		x := make([]float64, 13*testRate)
		for i := range x {
			s := float64(i) / testRate
			x[i] = 0.1 * math.Sin(2*math.Pi*math.Mod(10000*s, 1)+sign*2*math.Sin(2*math.Pi*3*s))
		}
		return x
	}
	ahead, behind := shifted(1), shifted(-1)
	if r := heard(10000, ahead, behind); r.Flutter.WeightedPeak > 1e-5 || r.Flutter.RMS > 1e-5 {
		t.Errorf("opposite shifts: %+v", *r.Flutter)
	}
	near(t, "equal shifts", heard(10000, ahead, ahead).Flutter.WeightedPeak, 0.06, 0.002)
	// A dead channel leaves the other's own.
	near(t, "one channel", heard(10000, ahead, make([]float64, len(ahead))).Flutter.WeightedPeak, 0.06, 0.002)
}

// A dead channel does not count, whether it is silent or hisses, and its level is what it is.
func TestDeadChannel(t *testing.T) {
	x := tone(testRate, 13, 3150*1.01, 0.1, wobble{0.1, 4})
	none := make([]float64, len(x))
	for name, dead := range map[string][]float64{"silent": none, "hissing": hissed(none, 1, 0.003)} {
		for _, r := range []Result{heard(3150, x, dead), heard(3150, dead, x)} {
			if r.Flutter == nil {
				t.Fatalf("%s: no flutter: %+v", name, r)
			}
			near(t, name+" weighted", r.Flutter.WeightedPeak, 0.0997, 0.0005)
			near(t, name+" speed", r.SpeedPercent.Value, 1, 0.001)
			if name == "silent" && (r.BalanceDB != nil || min(r.Level[0], r.Level[1]) != dsp.NoLevel) {
				t.Errorf("levels %v, balance %v", r.Level, r.BalanceDB)
			}
		}
	}
}

// Drop-outs of 5 to 50 ms, 20 dB deep in hiss, in one channel or both, are counted and left
// out: the flutter is that of the tape without them, within 2 %.
func TestDropoutsAreLeftOut(t *testing.T) {
	x := tone(testRate, 20, 3150*0.99, 0.1, wobble{0.1, 4}, wobble{0.05, 0.8})
	y := append([]float64(nil), x...)
	clean := heard(3150, hissed(x, 1, 0.001), hissed(y, 2, 0.001))
	for i := range 12 {
		start, length := (3*testRate)/2+i*testRate*3/2, testRate/200*(1+i%10)
		for k := start; k < start+length; k++ {
			if i%3 != 0 {
				x[k] *= 0.1
			}
			if i%3 != 1 {
				y[k] *= 0.1
			}
		}
	}
	r := heard(3150, hissed(x, 1, 0.001), hissed(y, 2, 0.001))
	if r.Dropouts != 12 || r.Stretches != 1 {
		t.Errorf("%d drop-outs and %d stretches, want 12 and 1", r.Dropouts, r.Stretches)
	}
	near(t, "seconds", r.Seconds, clean.Seconds-12*0.047, 0.15)
	near(t, "seconds for the flutter", r.FlutterSeconds, r.Seconds-1-12*0.1, 0.1)
	near(t, "weighted", r.Flutter.WeightedPeak, clean.Flutter.WeightedPeak, 0.02*clean.Flutter.WeightedPeak)
	near(t, "unweighted", r.Flutter.RMS, clean.Flutter.RMS, 0.02*clean.Flutter.RMS)
	near(t, "speed", r.SpeedPercent.Value, clean.SpeedPercent.Value, 0.001)
	near(t, "level", float64(r.Level[0]), -20, 0.03)
}

// Holes of 0.2 s in strong wow: the straight line that the filters get through each hole keeps
// them from answering to a step.
func TestLongHolesInStrongWow(t *testing.T) {
	x := tone(testRate, 24, 3150, 0.1, wobble{0.5, 0.55}, wobble{0.02, 30})
	clean := heard(3150, x, x)
	for start := 3 * testRate / 2; start < len(x)-testRate; start += testRate {
		clear(x[start : start+testRate/5])
	}
	r := heard(3150, x, x)
	if r.Dropouts != 22 || r.Stretches != 1 {
		t.Errorf("%d drop-outs and %d stretches, want 22 and 1", r.Dropouts, r.Stretches)
	}
	near(t, "weighted", r.Flutter.WeightedPeak, clean.Flutter.WeightedPeak, 0.03*clean.Flutter.WeightedPeak)
	near(t, "unweighted", r.Flutter.RMS, clean.Flutter.RMS, 0.03*clean.Flutter.RMS)
	t.Logf("%+v, without holes %+v", *r.Flutter, *clean.Flutter)
}

// A tone that is gone for half a second comes back as a new stretch; so it does after lost
// samples. Neither counts as flutter.
func TestGapsBeginANewStretch(t *testing.T) {
	x := tone(testRate, 16, 3150, 0.1)
	for i := range testRate / 2 {
		x[8*testRate+i] = 0
	}
	r := heard(3150, x, x)
	if r.Stretches != 2 || r.Flutter == nil || r.Flutter.WeightedPeak > 1e-4 {
		t.Errorf("a gap: %+v %+v", r, r.Flutter)
	}
	x = tone(testRate, 16, 3150, 0.1)
	m := New(Settings{RateHz: testRate, NominalHz: 3150})
	add(m, x[:8*testRate], x[:8*testRate])
	const lost = 4810 // not whole periods
	m.Add(audio.Block{Start: 8*testRate + lost, Lost: lost, Left: x[8*testRate+lost:], Right: x[8*testRate+lost:]})
	if r = m.Result(); r.Stretches != 2 || r.Flutter == nil || r.Flutter.WeightedPeak > 1e-4 {
		t.Errorf("lost samples: %+v %+v", r, r.Flutter)
	}
}

// Stretches of 2.5 s add up: seven have 10.5 s for the flutter, six have 9 s and no figure.
// The phase jumps from one to the next; unless that is declared it is flutter.
func TestStretchesAddUp(t *testing.T) {
	pieces := func(n int, declared bool) Result {
		m := New(Settings{RateHz: testRate, NominalHz: 3150})
		for i := range n {
			x := tone(testRate, 2.5+0.001*float64(i), 3150, 0.1, wobble{0.1, 4})[testRate/1000*i:]
			for k := range x { // half a turn later each time
				x[k] *= float64(1 - 2*(i%2))
			}
			if declared {
				m.Break()
			}
			add(m, x, x)
		}
		return m.Result()
	}
	r := pieces(7, true)
	if r.Flutter == nil || r.Stretches != 7 {
		t.Fatalf("seven: %+v", r)
	}
	near(t, "seconds", r.FlutterSeconds, 10.5, 0.3)
	near(t, "weighted", r.Flutter.WeightedPeak, 0.0997, 0.001)
	if r = pieces(6, true); r.Flutter != nil {
		t.Errorf("six: %.1f s, %+v", r.FlutterSeconds, *r.Flutter)
	}
	near(t, "seconds", r.FlutterSeconds, 9, 0.3)
	if r = pieces(9, false); r.Stretches == 1 && r.Flutter.RMS < 0.0708 {
		t.Errorf("undeclared jumps of the phase read %.4f %%", r.Flutter.RMS)
	}
}

// Noise, silence and a programme of noise are no steady tone, even where one is named.
func TestNoSteadyTone(t *testing.T) {
	none := make([]float64, 13*testRate)
	for name, x := range map[string][]float64{"silence": none, "noise": hissed(none, 1, 0.1)} {
		for _, nominal := range []float64{0, 315, 3150, 15000} {
			r := heard(nominal, x, x)
			if r.Seconds != 0 || r.Flutter != nil || r.SpeedPercent != nil || r.CarrierHz != 0 || r.Level[0] != dsp.NoLevel || r.LevelDriftDBPerMin != nil {
				t.Errorf("%s, tone of %v Hz: %+v", name, nominal, r)
			}
		}
	}
}

// A tone 3 dB below white noise is heard if it is named. Without a name it is not taken: it
// has less than most of the power.
func TestToneInNoise(t *testing.T) {
	x := tone(testRate, 13, 3150*1.01, 0.1)
	x, y := hissed(x, 1, 0.1), hissed(x, 2, 0.1)
	if r := heard(0, x, y); r.Seconds != 0 {
		t.Errorf("without a name: %+v", r)
	}
	r := heard(3150, x, y)
	if r.SpeedPercent == nil {
		t.Fatalf("by name: %+v", r)
	}
	near(t, "speed", r.SpeedPercent.Value, 1, 0.01)
}

// A stretch whose carrier was found 0.4 % too low has the same speed and flutter: its filters
// begin at the mean deviation, not at zero.
func TestFiltersBeginAtTheMean(t *testing.T) {
	x := tone(testRate, 13, 3150, 0.1, wobble{0.1, 4})
	var sums sums
	s := newStretch(testRate, 3150*0.996, &sums)
	if !s.begin([2][]float64{x[:testRate], x[:testRate]}, 0) {
		t.Fatal("no tone")
	}
	s.sound.add(x[testRate:], x[testRate:], s.hear)
	r := sums.result(s.rate, 1)
	near(t, "weighted", r.Flutter.WeightedPeak, 0.0997, 0.0006)
	near(t, "unweighted", r.Flutter.RMS, 0.0707, 0.0004)
	near(t, "carrier", r.CarrierHz, 3150, 0.01)
}

// Of two tones after one another a meter without a name follows the first.
func TestFirstToneIsFollowed(t *testing.T) {
	x := append(tone(testRate, 8, 3150, 0.1), tone(testRate, 8, 1000, 0.1)...)
	r := heard(0, x, x)
	near(t, "carrier", r.CarrierHz, 3150, 0.01)
	near(t, "seconds", r.Seconds, 8, 0.1)
}

// A tone without a name has the nearest usual frequency within 5 %, or none; its flutter is
// stated all the same.
func TestToneWithoutAName(t *testing.T) {
	for _, test := range []struct{ hz, nominal float64 }{{3150 * 1.02, 3150}, {3000 * 0.98, 3000}, {322, 315}, {9700, 10000}, {5000, 0}, {13800, 0}} {
		x := tone(testRate, 13, test.hz, 0.1, wobble{0.1, 4})
		r := heard(0, hissed(x, 1, 0.001), hissed(x, 2, 0.001))
		if r.NominalHz != test.nominal || r.Flutter == nil || (r.SpeedPercent != nil) != (test.nominal > 0) {
			t.Fatalf("%v Hz: %+v", test.hz, r)
		}
		near(t, "carrier", r.CarrierHz, test.hz, 0.01)
		near(t, "weighted", r.Flutter.WeightedPeak, 0.0997, 0.003)
		if r.SpeedPercent != nil {
			near(t, "speed", r.SpeedPercent.Value, 100*(test.hz/test.nominal-1), 0.001)
		}
	}
}

// Drifts: the level falls by 1 dB per minute, the speed rises by 0.3 % per minute, from -1 %.
func TestDrifts(t *testing.T) {
	x := make([]float64, 30*testRate)
	turns := 0.0
	for i := range x {
		s := float64(i) / testRate
		x[i] = 0.1 * math.Pow(10, -s/60/20) * math.Sin(2*math.Pi*math.Mod(turns, 1))
		turns += 3150 * (0.99 + 0.003*s/60) / testRate
	}
	r := heard(3150, hissed(x, 1, 0.001), hissed(x, 2, 0.001))
	near(t, "level", r.LevelDriftDBPerMin.Value, -1, 0.01)
	near(t, "speed", r.SpeedDriftPercentPerMin.Value, 0.3/0.9925, 0.002)
	near(t, "level, uncertainty", r.LevelDriftDBPerMin.SD, 0.002, 0.002)
	if short := heard(3150, x[:2*testRate], x[:2*testRate]); short.LevelDriftDBPerMin != nil || short.SpeedPercent.SD != dsp.UnknownSD {
		t.Errorf("2 s: %+v", short)
	}
}

// All rates give the same figures.
func TestRates(t *testing.T) {
	for _, rate := range []int{8000, 11025, 44100, 96000, 192000} {
		x := tone(rate, 12, 3150*1.01, 0.1, wobble{0.1, 4})
		m := New(Settings{RateHz: rate, NominalHz: 3150})
		add(m, x, x)
		r := m.Result()
		near(t, "weighted", r.Flutter.WeightedPeak, 0.0997, 0.0003)
		near(t, "speed", r.SpeedPercent.Value, 1, 0.001)
		near(t, "seconds", r.Seconds, 12, 0.1)
		if t.Failed() {
			t.Fatalf("%d frames per second", rate)
		}
	}
	for _, no := range []Settings{{RateHz: 7999}, {RateHz: 8000, NominalHz: 4500}, {RateHz: 48000, NominalHz: 100}} {
		if CanMeasure(no.RateHz, no.NominalHz) {
			t.Errorf("%+v can be measured", no)
		}
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%+v: a meter was made", no)
				}
			}()
			New(no)
		}()
	}
}

// Memory does not grow: two hours of points are kept in at most 16 batches, with the right
// means.
func TestHoursAreKeptInSixteenBatches(t *testing.T) {
	var s sums
	for i := range 2 * 3600 * pointsPerSecond {
		s.tone(3150+float64(i%2), [2]float64{1, 1}, float64(i)/pointsPerSecond)
	}
	if len(s.batches) > batchLimit || len(s.batches) < batchLimit/2 {
		t.Errorf("%d batches", len(s.batches))
	}
	for _, b := range s.batches[:len(s.batches)-1] {
		if b.n != s.batches[0].n {
			t.Errorf("batches of %.0f and %.0f points", s.batches[0].n, b.n)
		}
	}
	near(t, "mean", s.total().hz/s.total().n, 3150.5, 1e-6)
	near(t, "middle", s.total().seconds/s.total().n, 3600, 0.001)
}
