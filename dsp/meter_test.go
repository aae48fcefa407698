package dsp

import (
	"math"
	"testing"

	"headtrue/dsp/audio"
)

func close(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s is %v, want %v within %v", what, got, want, within)
	}
}

// A full-scale sine reads 0 dBFS by definition; 0.1 of it -20.
func TestLevelsOfASine(t *testing.T) {
	x := plus(toneOf(testRate, 1000, 0.1, 0, 0, 0), constant(testRate, 0.01))
	y := toneOf(testRate, 8000, 0.5, 0, 0, 0)
	r := heard(NewMeter(testRate, 0), stereo{x, y})
	close(t, "left level", float64(r.Level[0]), -20, 0.01)
	close(t, "right level", float64(r.Level[1]), -6.0206, 0.01)
	close(t, "left mid", float64(r.Mid[0]), -20, 0.01)
	close(t, "right treble", float64(r.Treble[1]), -6.0206, 0.01)
	close(t, "left peak", float64(r.Peak[0]), 20*math.Log10(0.11), 0.01)
	close(t, "left DC", r.DC[0], 0.01, 1e-4)
	close(t, "right DC", r.DC[1], 0, 1e-4)
	close(t, "seconds", r.Seconds, 1, 0.03)
}

func constant(n int, v float64) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = v
	}
	return x
}

func TestHum(t *testing.T) {
	for _, mains := range []float64{50, 60} {
		x := plus(toneOf(testRate, mains, 0.001, 30, 0, 0), toneOf(testRate, 2*mains, 0.0005, 0, 0, 0))
		y := toneOf(testRate, 3*mains, 0.0001, 0, 0, 0)
		far := toneOf(testRate, 1000, 0.1, 0, 0, 0) // a tone elsewhere is no hum
		r := heard(NewMeter(testRate, 0), stereo{plus(x, far), plus(y, far)})
		close(t, "hum frequency", r.HumHz, mains, 0)
		close(t, "left hum", float64(r.Hum[0]), 10*math.Log10(1e-6+0.25e-6), 0.1)
		close(t, "right hum", float64(r.Hum[1]), -80, 0.5)
	}
}

// Band levels and balance against Parseval's sum over one transform of the
// whole signal.
func TestBalanceIsThatOfTheBands(t *testing.T) {
	s := deck(3, 1.8, 12, 60)
	r := heard(NewMeter(testRate, 0), s)
	for c, x := range [2][]float64{s.left, s.right} {
		mid, treble := 2*bandPower(x, 500, 2000), 2*bandPower(x, 6000, 14000)
		close(t, "mid", float64(r.Mid[c]), 10*math.Log10(mid), 0.15)
		close(t, "treble", float64(r.Treble[c]), 10*math.Log10(treble), 0.15)
		close(t, "balance", float64(r.Balance[c]), 10*math.Log10(treble/mid), 0.15)
	}
	sum := (bandPower(s.left, 6000, 14000) + bandPower(s.right, 6000, 14000)) / (bandPower(s.left, 500, 2000) + bandPower(s.right, 500, 2000))
	close(t, "balance of both", float64(r.BalanceSum), 10*math.Log10(sum), 0.15)
}

// The standard error of the balance over 60 trials, as for the delay. The second
// programme's treble rises and falls with a correlation of 0.05 s, so neighbouring frames
// are correlated.
func TestBalanceSDIsHonest(t *testing.T) {
	const trials = 60
	low, high := chiSquaredLimits(trials)
	for name, swell := range map[string]float64{"steady": 0, "swelling": 0.4} {
		var squares, errors float64
		m := NewMeter(testRate, 0)
		for seed := range uint64(trials) {
			m.Reset()
			r := heard(m, stereo{swelling(seed, testRate, swell), swelling(seed+5000, testRate, swell)})
			// Treble and mid of white noise are as 8000 Hz to 1500 Hz; the swell adds its
			// mean square to the treble.
			want := 10 * math.Log10(8000.0/1500*(1+swell*swell))
			z := (float64(r.BalanceSum) - want) / float64(r.BalanceSumSD)
			squares += z * z / trials
			errors += float64(r.BalanceSumSD) / trials
		}
		t.Logf("%s: mean square of error over standard error %.2f, standard error %.2f dB", name, squares, errors)
		if squares < low/1.7 || squares > high*1.7 {
			t.Errorf("%s: mean square of error over standard error %.2f, want 1 (%.2f to %.2f)", name, squares, low/1.7, high*1.7)
		}
	}
}

// swelling is white noise whose part above 4 kHz is multiplied by a slow random 1 + swell
// g, g of unit variance, first-order autoregressive.
func swelling(seed uint64, n int, swell float64) []float64 {
	r := random(seed)
	x := white(r, n, 0.1)
	if swell == 0 {
		return x
	}
	high := filtered(x, func(hz float64) complex128 {
		if hz < 4000 {
			return 0
		}
		return 1
	})
	const step = 480
	keep := math.Exp(-step / (0.05 * testRate))
	g := r.NormFloat64()
	for i := range x {
		if i%step == 0 {
			g = keep*g + math.Sqrt(1-keep*keep)*r.NormFloat64()
		}
		x[i] += swell * g * high[i]
	}
	return x
}

func TestGates(t *testing.T) {
	clean := deck(11, 1, 3, 30)
	music := stereo{times(clean.left, 1.5), times(clean.right, 1.5)}
	with := func(change func(s stereo)) Reading {
		s := stereo{append([]float64{}, music.left...), append([]float64{}, music.right...)}
		change(s)
		return heard(NewMeter(testRate, 0), s)
	}
	const at = 20000
	plain := with(func(stereo) {})
	if plain.Gated != 0 || plain.Frames != 92 {
		t.Errorf("clean music: %d of %d frames gated", plain.Gated, plain.Frames)
	}
	clipped := with(func(s stereo) { copy(s.left[at:], []float64{1, 1, 1, 1}) })
	silent := with(func(s stereo) { clear(s.left[at : at+12000]); clear(s.right[at : at+12000]) })
	hole := with(func(s stereo) { clear(s.left[at : at+100]); clear(s.right[at : at+100]) })
	click := with(func(s stereo) { s.left[at] += 0.8; s.right[at] += 0.8 })
	dropped := with(func(s stereo) {
		copy(s.right[at:at+3000], filtered(s.right[at:at+3000], func(hz float64) complex128 { return complex(math.Exp(-hz/2000), 0) }))
	})
	for name, n := range map[string]struct{ got, least, most int }{
		"clipped": {clipped.ClippedFrames, 2, 3}, "silent": {silent.SilentFrames, 20, 24}, "hole": {hole.DropoutFrames, 1, 3},
		"click": {click.ClickFrames, 1, 2}, "drop-out": {dropped.DropoutFrames, 3, 7},
	} {
		if n.got < n.least || n.got > n.most {
			t.Errorf("%s: %d frames, want %d to %d", name, n.got, n.least, n.most)
		}
	}
	for name, r := range map[string]Reading{"clipped": clipped, "hole": hole, "click": click, "drop-out": dropped} {
		if r.Gated != r.ClippedFrames+r.SilentFrames+r.DropoutFrames+r.ClickFrames {
			t.Errorf("%s: %d gated is not the sum of its reasons: %+v", name, r.Gated, r)
		}
		close(t, name+": delay", float64(r.Delay), float64(plain.Delay), 0.3)
	}
}

// Clipping across a frame boundary must be detected too.
func TestClippingAcrossAHalfFrame(t *testing.T) {
	x := deck(12, 1, 0, 30)
	copy(x.left[10*512-2:], []float64{1, -1, 1, 1})
	if r := heard(NewMeter(testRate, 0), x); r.ClippedFrames == 0 {
		t.Error("four samples at full scale across a boundary are not seen as clipped")
	}
}

func TestSilenceReadsNothing(t *testing.T) {
	for _, hz := range []float64{0, 10000} {
		r := heard(NewMeter(testRate, hz), stereo{make([]float64, testRate), make([]float64, testRate)})
		if r.SilentFrames != r.Frames || r.Frames == 0 || r.Level[0] != NoLevel || r.Noise[1] != NoLevel || r.Seconds != 0 ||
			r.BalanceSumSD != UnknownSD || r.DelaySD != UnknownSD || r.Delay != 0 || r.Coherence != 0 {
			t.Errorf("tone %v: %+v", hz, r)
		}
	}
}

// Everything in a reading is finite, for any input.
func TestReadingsAreFinite(t *testing.T) {
	r := random(1)
	for _, hz := range []float64{0, 50, 10000, 23000} {
		for _, s := range []stereo{
			{nil, nil}, {white(r, 1000, 1), white(r, 1000, 1)}, {white(r, 1100, 0.1), white(r, 1100, 0.1)},
			{white(r, 9000, 0.1), make([]float64, 9000)}, {constant(9000, 1), constant(9000, -1)}, {constant(9000, 0.3), constant(9000, 0.3)},
		} {
			m := NewMeter(testRate, hz)
			got := heard(m, s)
			for _, v := range []float64{
				float64(got.Delay), float64(got.DelaySD), float64(got.DelayPeriod), got.Coherence, got.Correlation, got.PhaseMisfit, got.ToneHz,
				float64(got.ToneSum), float64(got.ToneSD), got.TonePhaseDeg, got.TonePhaseSDDeg, float64(got.BalanceSum), float64(got.BalanceSumSD),
				float64(got.BalanceSD[0]), float64(got.ToneToNoise[1]), float64(got.Noise[0]), float64(got.Hum[0]), float64(got.Thirds[0][3]), got.PhaseDeg10k,
			} {
				if math.IsNaN(v) || math.IsInf(v, 0) {
					t.Errorf("tone %v, %d samples: %+v", hz, len(s.left), got)
					break
				}
			}
		}
	}
}

func TestLostFramesAreCountedAndNoFrameReachesAcross(t *testing.T) {
	s := deck(13, 1, 3, 30)
	m := NewMeter(testRate, 0)
	feed(m, 0, s.left[:20000], s.right[:20000])
	m.Add(audio.Block{Start: 20700, Lost: 700, Left: s.left[20700:40000], Right: s.right[20700:40000]})
	r := m.Reading()
	// 20000 samples hold 38 frames, 19300 hold 36.
	if r.LostFrames != 700 || r.Frames != 38+36 || r.Gated != 0 {
		t.Errorf("%d lost, %d frames, %d gated; want 700, 74, 0", r.LostFrames, r.Frames, r.Gated)
	}
	// A jump of the sample number alone counts as well.
	m.Add(audio.Block{Start: 40100, Left: s.left[40100:], Right: s.right[40100:]})
	if r = m.Reading(); r.LostFrames != 800 {
		t.Errorf("%d lost, want 800", r.LostFrames)
	}
}

func TestResetForgetsAndReadingDisturbsNothing(t *testing.T) {
	for _, hz := range []float64{0, 10000} {
		s, other := deck(14, 1, 3, 30), deck(15, 2, 30, 10)
		want := heard(NewMeter(testRate, hz), s)
		m := NewMeter(testRate, hz)
		feed(m, 5, times(other.left, 30), other.right) // left much louder than the sound after it
		m.Reset()
		for i := range s.left { // blocks of one sample, read now and then
			m.Add(audio.Block{Start: int64(i), Left: s.left[i : i+1], Right: s.right[i : i+1]})
			if i%9999 == 0 {
				m.Reading()
			}
		}
		if got := m.Reading(); got != want {
			t.Errorf("tone %v: after Reset and in single samples\n%+v\nwant\n%+v", hz, got, want)
		}
	}
}

// Long sounds merge batches; the sums must stay those of all frames.
func TestJoinedBatchesHoldAllFrames(t *testing.T) {
	b := newBatches(3)
	frames := 0
	for frames < 5000 {
		c := b.current()
		c.frames++
		c.mid[0] += float64(frames)
		c.cross[1] += complex(1, float64(frames))
		frames++
		n, mid, cross := 0, 0.0, complex128(0)
		for i := range b.list {
			n += b.list[i].frames
			mid += b.list[i].mid[0]
			cross += b.list[i].cross[1]
		}
		sum := float64(frames*(frames-1)) / 2
		if n != frames || mid != sum || cross != complex(float64(frames), sum) {
			t.Fatalf("after %d frames: %d, %v, %v", frames, n, mid, cross)
		}
		whole := b.whole()
		for i := range whole {
			if whole[i].frames != b.length {
				t.Fatalf("after %d frames batch %d holds %d, want %d", frames, i, whole[i].frames, b.length)
			}
		}
		if frames > batchFrames*batchLimit && len(whole) < batchLimit/2 {
			t.Fatalf("after %d frames only %d batches", frames, len(whole))
		}
	}
}

// Standard error of a first-order autoregressive series. For long series the true value
// is that of independent values times sqrt((1+r)/(1-r)).
func TestStandardErrorOfCorrelatedSeries(t *testing.T) {
	r := random(5)
	for _, rho := range []float64{0, 0.4, 0.7} {
		const n, trials = 24, 4000
		var means, claimed float64
		for range trials {
			x, v, mean := make([]float64, n), r.NormFloat64(), 0.0
			for i := range x {
				v = rho*v + math.Sqrt(1-rho*rho)*r.NormFloat64()
				x[i] = v
				mean += v / n
			}
			means += mean * mean / trials
			se := standardError(x)
			claimed += se * se / trials
		}
		ratio := math.Sqrt(claimed / means)
		t.Logf("correlation %v: standard error is %.2f of the true one", rho, ratio)
		if ratio < 0.75 || ratio > 1.3 {
			t.Errorf("correlation %v: standard error is %.2f of the true one", rho, ratio)
		}
	}
	if standardError([]float64{1, 2, 3}) != UnknownSD || standardError([]float64{2, 2, 2, 2, 2}) != 0 {
		t.Error("three values have no standard error, equal ones have none to tell")
	}
}

func TestMetersAllocateNothingPerBlock(t *testing.T) {
	s := deck(16, 2, 3, 30)
	for _, hz := range []float64{0, 10000} {
		m, at := NewMeter(testRate, hz), 0
		allocs := testing.AllocsPerRun(200, func() {
			m.Add(audio.Block{Start: m.next, Left: s.left[at : at+1024], Right: s.right[at : at+1024]})
			at = (at + 1024) % (2*testRate - 1024)
		})
		if allocs != 0 {
			t.Errorf("tone %v: %v allocations per block", hz, allocs)
		}
	}
}

// At other rates frames last about as long, and delays are the same.
func TestOtherRates(t *testing.T) {
	for rate, frame := range map[int]int{8000: 256, 44100: 1024, 48000: 1024, 88200: 2048, 96000: 2048, 192000: 4096} {
		if got := frameLength(rate); got != frame {
			t.Errorf("%d Hz: frames of %d, want %d", rate, got, frame)
		}
	}
	for _, rate := range []int{44100, 96000} {
		// The same samples at another rate: delays and frequencies scale.
		s := deck(17, 1, 8, 30)
		r := heard(NewMeter(rate, 0), s)
		scale := testRate / float64(rate)
		close(t, "delay", float64(r.Delay), 44*scale, 0.3)
		tone := toneOf(testRate, 9000, 0.1, 0, 0, 0)
		r = heard(NewMeter(rate, 9000/scale), stereo{tone, filtered(tone, delay(10))})
		close(t, "tone's delay", float64(r.Delay), 10*scale, 0.01)
		close(t, "tone's frequency", r.ToneHz, 9000/scale, 2)
	}
	// Rates with the longest possible frames have the most groups of phase.
	for _, rate := range []int{33800, 34000, 67600, 70000, 135200, 142000} {
		s := deck(17, 1, 8, 30)
		r := heard(NewMeter(rate, 0), s)
		close(t, "delay", float64(r.Delay), 44*testRate/float64(rate), 0.3)
	}
}
