package dsp

import (
	"math"
	"slices"
	"testing"
)

// deck plays a programme to a tilted head with hiss on each channel, hissDB below its
// treble at zero tilt; the outer delay is split between both channels. A lead-in of 0.1 s
// is cut off, since the loop of the filters joins there.
func deck(seed uint64, seconds, arcmin, hissDB float64) stereo {
	r := random(seed)
	const lead = testRate / 10
	n := int(seconds*testRate) + 2*lead
	p := programme(r, n, true)
	hiss := hissFor(p, hissDB)
	us := arcmin * 5.5
	left := plus(filtered(p, tilted(arcmin, -us/2)), white(r, n, hiss))
	right := plus(filtered(p, tilted(arcmin, us/2)), white(r, n, hiss))
	return stereo{left[lead : n-lead], right[lead : n-lead]}
}

// No wrong period up to +-90', with or without treble, in 0.3 s. The allowance beyond the
// standard error is a thousandth of the delay: at great delays the two frames do not hold
// the same sound.
func TestDelayIsFoundAtAnyTilt(t *testing.T) {
	m := NewMeter(testRate, 0)
	for arcmin := -90.0; arcmin <= 90; arcmin += 15 {
		for seed := range uint64(3) {
			m.Reset()
			r := heard(m, deck(seed+1, 0.3, arcmin, 20))
			off := math.Abs(float64(r.Delay) - arcmin*5.5)
			if limit := 4.5*float64(r.DelaySD) + 0.001*math.Abs(arcmin*5.5); off > limit || r.DelaySD > 5 {
				t.Errorf("tilt %v', seed %d: delay %.3f us, off by %.3f, standard error %.3f", arcmin, seed, r.Delay, off, r.DelaySD)
			}
		}
	}
}

// Without noise the delay is exact to a thousandth of a sample or better.
func TestDelayIsExactWithoutNoise(t *testing.T) {
	for _, us := range []float64{0, 0.37, -3.1, 12.5, -60.6, 101} {
		x := programme(random(9), 48000, false)
		r := heard(NewMeter(testRate, 0), stereo{x, filtered(x, delay(us))})
		if off := math.Abs(float64(r.Delay) - us); off > 0.0005*math.Abs(us)+0.002 {
			t.Errorf("delay %v us, want %v", r.Delay, us)
		}
	}
}

// chiSquaredLimits returns limits of a mean square: with n trials of unit variance, n
// times it is chi-squared with n degrees of freedom; its 99.9 % limits by Wilson and
// Hilferty, PNAS 17 (1931), from memory.
func chiSquaredLimits(n int) (low, high float64) {
	const z = 3.29
	a := 2 / (9 * float64(n))
	return math.Pow(1-a-z*math.Sqrt(a), 3), math.Pow(1-a+z*math.Sqrt(a), 3)
}

// The standard error must be correct: errors divided by it have unit mean square, within
// the precision of 60 trials. It is about 10 % on the safe side, so the limits are
// lowered by 15 to 20 %.
func TestDelaySDIsHonest(t *testing.T) {
	tests := map[string]struct{ seconds, arcmin, hissDB float64 }{
		"on a flank":    {0.3, 15, 20},
		"much hiss":     {0.3, 4, 0},
		"far and hissy": {0.3, 40, 10},
	}
	const trials = 60
	low, high := chiSquaredLimits(trials)
	m := NewMeter(testRate, 0)
	for name, test := range tests {
		var squares float64
		for seed := range uint64(trials) {
			m.Reset()
			r := heard(m, deck(seed+100, test.seconds, test.arcmin, test.hissDB))
			z := (float64(r.Delay) - test.arcmin*5.5) / float64(r.DelaySD)
			squares += z * z / trials
		}
		t.Logf("%s: mean square of error over standard error %.2f", name, squares)
		if squares < low/1.2 || squares > high/1.15 {
			t.Errorf("%s: mean square of error over standard error %.2f, want 1 (%.2f to %.2f)", name, squares, low/1.2, high/1.15)
		}
	}
}

// flatBand is the spectrum of a programme that is flat from f1 to f2.
func flatBand(f1, f2 float64) func(hz float64) complex128 {
	return func(hz float64) complex128 {
		if hz < f1 || hz > f2 {
			return 0
		}
		return 1
	}
}

// delayBoundUS returns the bound of Knapp and Carter (1976) on the delay of n frames of
// that programme, with independent hiss in each channel at a power ratio snr, so of
// magnitude-squared coherence g: var >= 3 (1-g) / (8 pi^2 T g (f2^3 - f1^3)).
func delayBoundUS(f1, f2, snr, n float64) float64 {
	g := snr / (1 + snr) * snr / (1 + snr)
	return math.Sqrt(3*(1-g)/(8*math.Pi*math.Pi*g*n/testRate*(f2*f2*f2-f1*f1*f1))) * 1e6
}

// Hann frames at half overlap alone cost 1.028 in standard deviation.
func TestDelayReachesItsBound(t *testing.T) {
	const f1, f2, trials, n = 300.0, 14000.0, 50, testRate / 2
	for _, snrDB := range []float64{20, 0} {
		snr := math.Pow(10, snrDB/10)
		bound, flat := delayBoundUS(f1, f2, snr, n), flatBand(f1, f2)
		var squares float64
		m := NewMeter(testRate, 0)
		for seed := range uint64(trials) {
			r := random(seed + 500)
			x := filtered(white(r, n, 0.1), flat)
			noise := 0.1 / math.Sqrt(snr)
			m.Reset()
			got := heard(m, stereo{plus(x, white(r, n, noise)), plus(filtered(x, delay(7)), white(r, n, noise))})
			squares += math.Pow(float64(got.Delay)-7, 2) / trials
		}
		ratio := math.Sqrt(squares) / bound
		t.Logf("%v dB: rms error %.4f us in 0.5 s, %.2f of the bound", snrDB, math.Sqrt(squares), ratio)
		if ratio > 1.3 || ratio < 0.75 {
			t.Errorf("%v dB: rms error is %.2f of the bound", snrDB, ratio)
		}
	}
}

// Unrelated channels: 27 frames alone would show a coherence of 1/27. Related ones with
// equal signal and noise: (1/2)^2.
func TestCoherenceHasNoBias(t *testing.T) {
	for _, test := range []struct{ signal, want float64 }{{0, 0}, {1, 0.25}, {3, 0.81}} {
		var mean float64
		const trials = 40
		for seed := range uint64(trials) {
			r := random(seed + 40)
			x := white(r, 14400, 0.1*test.signal)
			left, right := plus(x, white(r, 14400, 0.1)), plus(x, white(r, 14400, 0.1))
			mean += heard(NewMeter(testRate, 0), stereo{left, right}).Coherence / trials
		}
		if math.Abs(mean-test.want) > 0.01 {
			t.Errorf("signal %v: coherence %.3f, want %.3f", test.signal, mean, test.want)
		}
	}
}

// Chi-squared per degree of freedom of the phase line: about 1 on clean material, and
// much greater if a second source has its own delay (10 % of the power on the left, 150
// us).
func TestPhaseMisfitTellsOneDelayFromTwo(t *testing.T) {
	var clean []float64
	m := NewMeter(testRate, 0)
	for seed := range uint64(20) {
		m.Reset()
		clean = append(clean, heard(m, deck(seed+900, 0.5, 5, 20)).PhaseMisfit)
	}
	slices.Sort(clean)
	middle, high := clean[10], clean[18]
	t.Logf("clean: median %.2f, 90th percentile %.2f", middle, high)
	if middle < 0.7 || middle > 1.3 || high > cleanMisfit {
		t.Errorf("clean: median %.2f, 90th percentile %.2f", middle, high)
	}
	r := random(33)
	x, y := programme(r, testRate, true), times(programme(r, testRate, true), math.Sqrt(0.1))
	hiss := hissFor(x, 20)
	third := filtered(y, func(hz float64) complex128 { return delay(150)(hz) * 2 })
	m.Reset()
	if two := heard(m, stereo{plus(plus(x, y), white(r, testRate, hiss)), plus(plus(x, third), white(r, testRate, hiss))}); two.PhaseMisfit < 3 {
		t.Errorf("two delays: misfit %.2f, want it above 3", two.PhaseMisfit)
	}
}

// A delay that wanders within the reading, by 5.5 us rms (1' of tilt) at 1 Hz, is not a
// misfit; but the standard error must include it.
func TestWanderIsNoMisfit(t *testing.T) {
	const n = 2 * testRate
	r := random(8)
	p := programme(r, n, false)
	hiss := hissFor(p, 20)
	right := make([]float64, n)
	const steps = 16 // delays from -8 to 8 us, interpolated between
	var bank [steps + 1][]float64
	for i := range bank {
		bank[i] = filtered(p, delay(-8+16*float64(i)/steps))
	}
	for i := range right {
		us := 5.5 * math.Sqrt2 * math.Sin(2*math.Pi*float64(i)/testRate)
		at := (us + 8) / 16 * steps
		k := int(at)
		right[i] = bank[k][i] + (at-float64(k))*(bank[k+1][i]-bank[k][i])
	}
	got := heard(NewMeter(testRate, 0), stereo{plus(p, white(r, n, hiss)), plus(right, white(r, n, hiss))})
	if got.PhaseMisfit > 2 {
		t.Errorf("misfit %.2f on a delay that wanders", got.PhaseMisfit)
	}
	// Two seconds of it, taken as two independent values a second or more: between
	// 5.5/sqrt(30) and 5.5.
	if got.DelaySD < 1 || got.DelaySD > 5.5 {
		t.Errorf("standard error %.3f us of a delay that wanders by 5.5 us rms", got.DelaySD)
	}
}

func TestInvertedChannelShowsInCorrelation(t *testing.T) {
	s := deck(4, 0.5, 12, 20)
	plain := heard(NewMeter(testRate, 0), s)
	flipped := heard(NewMeter(testRate, 0), stereo{s.left, times(s.right, -1)})
	if plain.Correlation < 0.9 || flipped.Correlation > -0.9 {
		t.Errorf("correlation %.3f, and %.3f with right upside down", plain.Correlation, flipped.Correlation)
	}
	if math.Abs(float64(plain.Delay-flipped.Delay)) > 1e-6 {
		t.Errorf("delay %v us, and %v with right upside down", plain.Delay, flipped.Delay)
	}
}

// Two copies 100 us apart, equally strong, fit two delays: this must be reported.
func TestRivalDelayIsTold(t *testing.T) {
	r := random(6)
	band := func(hz float64) complex128 {
		if hz < 8000 || hz > 8600 {
			return 0
		}
		return 1
	}
	x := filtered(white(r, 14400, 0.3), band)
	got := heard(NewMeter(testRate, 0), stereo{plus(x, white(r, 14400, 0.003)), plus(filtered(x, delay(30)), white(r, 14400, 0.003))})
	if got.DelayRival == 0 || float64(got.DelaySD) < 50 {
		t.Errorf("narrow band: delay %.1f us, rival %.1f, standard error %.1f", got.Delay, got.DelayRival, got.DelaySD)
	}
	wide := heard(NewMeter(testRate, 0), deck(7, 0.3, 5, 20))
	if wide.DelayRival != 0 {
		t.Errorf("wide band: rival %.1f us", wide.DelayRival)
	}
}

func TestNothingInCommonIsNoDelay(t *testing.T) {
	r := random(2)
	got := heard(NewMeter(testRate, 0), stereo{white(r, 48000, 0.1), white(r, 48000, 0.1)})
	if got.DelaySD < 20 {
		t.Errorf("unrelated noise: delay %.2f us with a standard error of %.2f", got.Delay, got.DelaySD)
	}
	got = heard(NewMeter(testRate, 0), stereo{white(r, 48000, 0.1), make([]float64, 48000)})
	if got.DelaySD < UnknownSD || got.Delay != 0 {
		t.Errorf("dead right channel: delay %v us, standard error %v", got.Delay, got.DelaySD)
	}
}
