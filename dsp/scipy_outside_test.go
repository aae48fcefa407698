//go:build outside

package dsp

import (
	"math"
	"math/cmplx"
	"testing"

	"headtrue/dsp/pythontest"
)

// scipyFigures is the output of testdata/check.py.
type scipyFigures struct {
	Mid, Treble [2]float64
	Third1k     [2]float64 `json:"third_1k"`
	CrossRe     []float64  `json:"cross_re"`
	CrossIm     []float64  `json:"cross_im"`
	Coherence   []float64
	Density     [2][]float64
	Window      []float64
	DelayUS     float64 `json:"delay_us"`
	DelaySDUS   float64 `json:"delay_sd_us"`
	ToneHz      float64 `json:"tone_hz"`
	Tone        [2]float64
	PhaseDeg    float64 `json:"phase_deg"`
}

// scipy measures the sound with testdata/check.py.
func scipy(t *testing.T, s stereo, toneHz float64) (f scipyFigures) {
	t.Helper()
	path := saved(t, s)
	pythontest.Read(t, pythontest.Run(t, nil, "testdata/check.py", path, testRate, toneHz), &f)
	return f
}

// Window, powers, band levels, cross-spectrum and coherence agree with scipy's
// (signal.get_window, welch, csd, coherence) to rounding; the delay agrees with that of
// least squares in the time domain, within their errors.
func TestProgrammeAsScipySeesIt(t *testing.T) {
	for _, test := range []struct{ arcmin, hissDB float64 }{{0, 20}, {12, 20}, {-30, 10}} {
		s := deck(71, 1, test.arcmin, test.hissDB)
		whole := (len(s.left) - 1024) / 512 * 512 // scipy and the meter then see the same frames
		s.left, s.right = s.left[:whole+1024], s.right[:whole+1024]
		m := NewMeter(testRate, 0)
		got, want := heard(m, s), scipy(t, s, 0)
		if got.Gated != 0 {
			t.Fatalf("%d frames gated", got.Gated)
		}
		for c := range 2 {
			close(t, "mid", float64(got.Mid[c]), want.Mid[c], 1e-6)
			close(t, "treble", float64(got.Treble[c]), want.Treble[c], 1e-6)
			close(t, "third octave at 1 kHz", float64(got.Thirds[c][3]), want.Third1k[c], 1e-6)
		}
		spectraAreScipys(t, m, want)
		t.Logf("tilt %v': delay %.3f us (standard error %.3f), scipy %.3f (%.3f)", test.arcmin, got.Delay, got.DelaySD, want.DelayUS, want.DelaySDUS)
		close(t, "delay", float64(got.Delay), want.DelayUS, 4*(float64(got.DelaySD)+want.DelaySDUS))
	}
}

// spectraAreScipys compares window, powers, cross-spectrum and coherence bin by bin. It
// must follow Reading.
func spectraAreScipys(t *testing.T, m *Meter, want scipyFigures) {
	t.Helper()
	// scipy's is a one-sided density; ours sums frames of power re a sine.
	scale := 2 * m.binHz * float64(m.used)
	for i, z := range m.all.sum {
		k := m.phase.first + i
		other := complex(want.CrossRe[k]*scale, want.CrossIm[k]*scale)
		if cmplx.Abs(z-other) > 1e-9*cmplx.Abs(other)+1e-15 {
			t.Fatalf("cross-spectrum at bin %d: %v, scipy has %v", k, z, other)
		}
		coherence := power(z) / (m.all.left[i] * m.all.right[i])
		if math.Abs(coherence-want.Coherence[k]) > 1e-9 {
			t.Fatalf("coherence at bin %d: %v, scipy has %v", k, coherence, want.Coherence[k])
		}
	}
	for c, density := range want.Density {
		for k, p := range m.spectrum[c] {
			other := density[k] * scale
			if k == 0 || k == 512 {
				other *= 2 // bins without a mirror
			}
			if math.Abs(p-other) > 1e-9*other+1e-15 {
				t.Fatalf("channel %d, power at bin %d: %v, scipy has %v", c, k, p, other)
			}
		}
	}
	for i, w := range m.spectra.window {
		if math.Abs(w/m.spectra.window[512]-want.Window[i]) > 1e-15 {
			t.Fatalf("window at %d: %v of its top, scipy has %v", i, w/m.spectra.window[512], want.Window[i])
		}
	}
}

// Tone: level, phase and frequency agree with scipy.optimize.least_squares, whose errors
// are at the bound of a steady tone.
func TestToneAsScipySeesIt(t *testing.T) {
	for _, hz := range []float64{3150, 10000, 10230} {
		nominal := math.Round(hz/1000) * 1000
		r := random(uint64(hz))
		const n = testRate / 2
		hiss := hissUnder(0.1, 20)
		s := stereo{
			plus(toneOf(n, hz, 0.1, 10, 0, 0), white(r, n, hiss)),
			plus(toneOf(n, hz, 0.07, -60, 0, 0), white(r, n, hiss)),
		}
		if hz == 3150 {
			nominal = 3150
		}
		got, want := heard(NewMeter(testRate, nominal), s), scipy(t, s, nominal)
		for c := range 2 {
			close(t, "tone", float64(got.Tone[c]), want.Tone[c], 0.02)
		}
		close(t, "phase", got.TonePhaseDeg, want.PhaseDeg, 0.2)
		close(t, "frequency", got.ToneHz, want.ToneHz, 0.005) // 5 times its standard error
		t.Logf("%v Hz: %.3f and %.3f dB, %.3f degrees, %.4f Hz; scipy %.3f and %.3f, %.3f, %.4f", hz,
			got.Tone[0], got.Tone[1], got.TonePhaseDeg, got.ToneHz, want.Tone[0], want.Tone[1], want.PhaseDeg, want.ToneHz)
	}
}
