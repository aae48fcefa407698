package dsp

import (
	"math"
	"testing"
)

// hissUnder returns the rms over the whole band of white noise that is db below a tone of
// the amplitude, within 6 to 14 kHz.
func hissUnder(amplitude, db float64) float64 {
	return math.Sqrt(amplitude * amplitude / 2 * math.Pow(10, -db/10) / 8000 * testRate / 2)
}

// Level, phase and frequency under speed error, flutter, hum and hiss.
func TestToneIsUnbiased(t *testing.T) {
	const n, amplitude = testRate / 2, 0.2
	for _, nominal := range []float64{1000, 6300, 10000, 12500} {
		m := NewMeter(testRate, nominal)
		for _, speed := range []float64{-0.03, 0.017, 0.03} {
			for _, flutter := range []float64{0, 0.003} {
				for _, degrees := range []float64{40, 180} {
					r := random(uint64(nominal) + uint64(1000*(speed+1)))
					hz := nominal * (1 + speed)
					hiss := hissUnder(amplitude, 30)
					hum := toneOf(n, 50, 0.02, 0, 0, 0)
					left := plus(plus(toneOf(n, hz, amplitude, 0, flutter, 8), hum), white(r, n, hiss))
					right := plus(plus(toneOf(n, hz, amplitude/2, -degrees, flutter, 8), hum), white(r, n, hiss))
					m.Reset()
					got := heard(m, stereo{left, right})
					close(t, "left level", float64(got.Tone[0]), 20*math.Log10(amplitude), 0.02)
					close(t, "right level", float64(got.Tone[1]), 20*math.Log10(amplitude/2), 0.03)
					close(t, "both", float64(got.ToneSum), 10*math.Log10(amplitude*amplitude*1.25), 0.02)
					close(t, "phase", math.Remainder(got.TonePhaseDeg-degrees, 360), 0, 0.3)
					close(t, "frequency", got.ToneHz, hz, 0.0005*hz) // a frequency that varies by 0.3 %
					close(t, "period", float64(got.DelayPeriod), 1e6/hz, 1e6/hz*0.003)
					close(t, "left tone to noise", float64(got.ToneToNoise[0]), 30, 0.5)
					if got.Gated != 0 {
						t.Errorf("%d frames gated", got.Gated)
					}
					if t.Failed() {
						t.Fatalf("tone %v Hz, speed %+v, flutter %v, phase %v: %+v", nominal, speed, flutter, degrees, got)
					}
				}
			}
		}
	}
}

// Flutter of 1 % at 30 Hz spreads 12.5 kHz over several bins; the sum still includes it.
func TestToneLevelUnderStrongFlutter(t *testing.T) {
	x := toneOf(testRate, 12500, 0.1, 0, 0.01, 30)
	r := heard(NewMeter(testRate, 12500), stereo{x, x})
	close(t, "level", float64(r.Tone[0]), -20, 0.05)
}

// Positive delay means that right comes later, for a tone as for a programme.
func TestToneDelayHasTheProgrammesSign(t *testing.T) {
	x := toneOf(testRate, 10000, 0.1, 0, 0, 0)
	r := heard(NewMeter(testRate, 10000), stereo{x, filtered(x, delay(20))})
	close(t, "delay", float64(r.Delay), 20, 0.01)
	close(t, "phase at 10 kHz", r.PhaseDeg10k, 72, 0.1)
	p := programme(random(1), testRate, false)
	r = heard(NewMeter(testRate, 0), stereo{p, filtered(p, delay(20))})
	close(t, "programme's delay", float64(r.Delay), 20, 0.02)
	close(t, "programme's phase at 10 kHz", r.PhaseDeg10k, 72, 0.1)
}

// Deep under the hiss of its own bins the level must not be raised by them: the noise is
// subtracted.
func TestWeakToneIsNotHeldUpByNoise(t *testing.T) {
	const n = 4 * testRate
	hiss := hissUnder(0.1, 0) // in 8 kHz; some 13 dB above the noise of its own bins
	for _, below := range []float64{0, 6, 10} {
		amplitude := 0.1 * math.Pow(10, -below/20)
		r := random(uint64(below) + 3)
		m := NewMeter(testRate, 10000)
		got := heard(m, stereo{
			plus(toneOf(n, 10000, amplitude, 0, 0, 0), white(r, n, hiss)),
			plus(toneOf(n, 10000, amplitude, 0, 0, 0), white(r, n, hiss)),
		})
		close(t, "level", float64(got.ToneSum), 20*math.Log10(amplitude)+3.0103, 0.5)
	}
}

// Errors over standard errors, and over the bounds for a real tone of known frequency
// (Kay 1993, from memory): var A >= 2 s^2/N, so 20/ln 10 sqrt(2 s^2/N)/A in decibels, and
// var phase >= 2 s^2/(N A^2) each channel, twice that for the difference. Hann frames at
// half overlap cost 1.028 in standard deviation; the small number of summed bins costs
// nothing at first order.
func TestToneReachesItsBoundAndKnowsIt(t *testing.T) {
	const amplitude, trials, n, degrees = 0.1, 80, testRate / 2, 25.0
	s := hissUnder(amplitude, 20)
	phaseBound := math.Sqrt(2*2*s*s/(n*amplitude*amplitude)) * 180 / math.Pi
	levelBound := 20 / math.Ln10 * math.Sqrt(2*s*s/n) / amplitude / math.Sqrt2 // of both channels' sum
	var phase, level, phaseZ, levelZ float64
	m := NewMeter(testRate, 10000)
	for seed := range uint64(trials) {
		r := random(seed + 60)
		m.Reset()
		got := heard(m, stereo{
			plus(toneOf(n, 10050, amplitude, 0, 0, 0), white(r, n, s)),
			plus(toneOf(n, 10050, amplitude, -degrees, 0, 0), white(r, n, s)),
		})
		p, l := got.TonePhaseDeg-degrees, float64(got.ToneSum)+20-3.0103
		phase += p * p / trials
		level += l * l / trials
		phaseZ += p * p / (got.TonePhaseSDDeg * got.TonePhaseSDDeg) / trials
		levelZ += l * l / float64(got.ToneSD*got.ToneSD) / trials
	}
	t.Logf("phase: rms %.4f degrees, %.2f of the bound, mean square over standard error %.2f", math.Sqrt(phase), math.Sqrt(phase)/phaseBound, phaseZ)
	t.Logf("level: rms %.5f dB, %.2f of the bound, mean square over standard error %.2f", math.Sqrt(level), math.Sqrt(level)/levelBound, levelZ)
	close(t, "phase over its bound", math.Sqrt(phase)/phaseBound, 1.05, 0.25)
	close(t, "level over its bound", math.Sqrt(level)/levelBound, 1.1, 0.3)
	low, high := chiSquaredLimits(trials)
	if min(phaseZ, levelZ) < low/1.5 || max(phaseZ, levelZ) > high*1.5 {
		t.Errorf("mean square of error over standard error: phase %.2f, level %.2f", phaseZ, levelZ)
	}
}

// A drop-out in one channel, or in both, must not change the level.
func TestToneDropoutsAreGated(t *testing.T) {
	for name, channels := range map[string]int{"one": 1, "both": 2} {
		r := random(5)
		x, y := toneOf(testRate, 10000, 0.1, 0, 0, 0), toneOf(testRate, 10000, 0.1, 0, 0, 0)
		for c, z := range [2][]float64{x, y} {
			for i := 20000; i < 22000 && c < channels; i++ {
				z[i] *= 0.1
			}
		}
		hiss := hissUnder(0.1, 30)
		got := heard(NewMeter(testRate, 10000), stereo{plus(x, white(r, testRate, hiss)), plus(y, white(r, testRate, hiss))})
		if got.DropoutFrames < 2 || got.DropoutFrames > 6 {
			t.Errorf("%s: %d frames as drop-out", name, got.DropoutFrames)
		}
		close(t, name+": level", float64(got.Tone[0]), -20, 0.25)
	}
}
