//go:build outside

package bench

import (
	"maps"
	"math"
	"slices"
	"testing"
)

// Azimuth loss, 20 log10 |sin x / x|, x = pi w tan(tilt)/lambda, w = 0.600 mm,
// v = 47.6 mm/s. Calculated from the formula as read in chalkwalk/chalkwalk-tape
// LossEffects.h @0151045; dB lost, rounded to 0.01.
func TestAzimuthLossTable(t *testing.T) {
	hz := []float64{3150, 6300, 8000, 10000, 12500, 15000}
	table := map[float64][]float64{
		1: {0, 0.01, 0.01, 0.02, 0.03, 0.04}, 2: {0.01, 0.03, 0.05, 0.08, 0.12, 0.17},
		3: {0.02, 0.07, 0.11, 0.17, 0.27, 0.39}, 5: {0.05, 0.19, 0.31, 0.49, 0.76, 1.11},
		6: {0.07, 0.28, 0.45, 0.70, 1.11, 1.62}, 10: {0.19, 0.78, 1.27, 2.01, 3.24, 4.86},
		15: {0.43, 1.79, 2.97, 4.86, 8.29, 13.91}, 20: {0.78, 3.30, 5.64, 9.83, 20.93, 20.97},
		30: {1.79, 8.46, 17.51, 20.97, 13.40, 15.30},
	}
	tilts := slices.Collect(maps.Keys(table))
	profiles := []Profile{still(0, hz...)}
	for _, tilt := range tilts {
		profiles = append(profiles, still(tilt, hz...))
	}
	got := measureTones(t, hz, profiles...)
	var worst float64
	for k, tilt := range tilts {
		for i, f := range hz {
			for c := range 2 {
				lost := got[0][c][i][0] - got[k+1][c][i][0]
				worst = max(worst, math.Abs(lost-table[tilt][i]))
				if math.Abs(lost-table[tilt][i]) > 0.011 {
					t.Errorf("%g Hz at %g': %.3f dB lost, table %.2f", f, tilt, lost, table[tilt][i])
				}
			}
		}
	}
	t.Logf("54 figures, both channels: worst %.4f dB off", worst)
}

// First nulls: the same source's table, arcmin rounded to 0.01. The first side
// lobe of sin x / x is 13.26 dB down.
func TestFirstNullsAndSideLobe(t *testing.T) {
	hz := []float64{3150, 6300, 8000, 10000, 12500, 15000}
	nulls := []float64{86.56, 43.29, 34.09, 27.27, 21.82, 18.18}
	profiles := []Profile{still(0, hz...)}
	for _, null := range nulls {
		profiles = append(profiles, still(null, hz...))
	}
	for tilt := 38.0; tilt <= 40; tilt += 0.25 {
		profiles = append(profiles, still(tilt, hz...))
	}
	got := measureTones(t, hz, profiles...)
	down := func(k, i int) float64 { return got[0][0][i][0] - got[k][0][i][0] }
	for i, null := range nulls {
		if down(i+1, i) < 65 {
			t.Errorf("%g Hz at its null, %g': only %.1f dB down", hz[i], null, down(i+1, i))
		}
	}
	least := math.Inf(1)
	for k := len(nulls) + 1; k < len(got); k++ {
		least = min(least, down(k, 3)) // 10 kHz
	}
	near(t, "first side lobe in dB", least, 13.26, 0.01)
}

// Delay 5.50 us per arcmin; degrees of phase per arcmin by frequency, the
// right channel later at positive tilt: s tan(tilt)/v with s = 0.9 mm. A whole
// turn of phase is 28.9' at 6.3 kHz and 18.2' at 10 kHz.
func TestPhasePerArcmin(t *testing.T) {
	hz := []float64{1000, 3150, 6300, 8000, 10000, 12500}
	want := []float64{1.98, 6.24, 12.5, 15.8, 19.8, 24.8}
	rounding := []float64{0.0051, 0.0051, 0.051, 0.051, 0.051, 0.051}
	tilts := []float64{-4, 1, 6, 28.9, 18.2}
	var profiles []Profile
	for _, tilt := range tilts {
		profiles = append(profiles, still(tilt, hz...))
	}
	got := measureTones(t, hz, profiles...)
	lag := func(k, i int) float64 { return math.Remainder(got[k][0][i][1]-got[k][1][i][1], 360) }
	for k, tilt := range tilts[:3] {
		for i := range hz {
			near(t, "degrees per arcmin", lag(k, i)/tilt, want[i], rounding[i])
			near(t, "us per arcmin", lag(k, i)/360/hz[i]*1e6/tilt, 5.50, 0.005)
		}
	}
	near(t, "6.3 kHz after a whole turn", lag(3, 2), 0, 1.5)
	near(t, "10 kHz after a whole turn", lag(4, 4), 0, 1.5)
}

// lossOf returns the loss by a change of the still deck at each tone, in dB.
func lossOf(t *testing.T, hz []float64, change func(*Profile)) []float64 {
	t.Helper()
	p := still(0, hz...)
	changed := p
	change(&changed)
	got := measureTones(t, hz, p, changed)
	out := make([]float64, len(hz))
	for i := range hz {
		out[i] = got[0][0][i][0] - got[1][0][i][0]
	}
	return out
}

// Gap loss 20 log10 sinc(1.11 g/lambda) (Eargle 1994, ch. 167). The null is at lambda =
// 1.12 g (Hess 2012, citing Mallinson 1993), 1 % from that formula's: there the loss must
// exceed 35 dB.
func TestGapLoss(t *testing.T) {
	const g = 3.0
	null := math.Round(47600 / (1.12 * g))
	hz := []float64{1000, 5000, 10000, null}
	got := lossOf(t, hz, func(p *Profile) { p.Deck.GapUM = g })
	for i, f := range hz[:3] {
		x := math.Pi * 1.11 * g * f / 47600
		near(t, "gap loss in dB", got[i], -20*math.Log10(math.Sin(x)/x), 0.01)
	}
	if got[3] < 35 {
		t.Errorf("at the published null, %g Hz: %.1f dB lost", null, got[3])
	}
}

// Spacing loss: 5.46 dB if the distance is a tenth of the wavelength, for example 0.254
// um (10 microinch) at 2.54 um; 54.575 d/lambda dB.
func TestSpacingLoss(t *testing.T) {
	f := math.Round(47600 / 2.54)
	got := lossOf(t, []float64{f, 1000}, func(p *Profile) { p.Tape.SpacingUM = 0.254 })
	near(t, "spacing loss in dB", got[0], 5.46, 0.005)
	near(t, "spacing loss at 1 kHz", got[1], 54.575*0.254/47.6, 0.005)
}

// Thickness loss (1 - exp(-kd))/(kd), k = 2 pi/lambda (chalkwalk-tape
// LossEffects.h @0151045).
func TestThicknessLoss(t *testing.T) {
	hz := []float64{315, 3150, 10000}
	got := lossOf(t, hz, func(p *Profile) { p.Tape.ThicknessUM = 5 })
	for i, f := range hz {
		kd := 2 * math.Pi * 5 * f / 47600
		near(t, "thickness loss in dB", got[i], -20*math.Log10((1-math.Exp(-kd))/kd), 0.005)
	}
}

// A tape recorded for 120 us and played at 70: the difference of the replay curves re 1
// kHz (IEC 60094-1 by way of richardhess.com; equal figures in chalkwalk-tape TapeEq.h).
func TestEqualiserError(t *testing.T) {
	hz := []float64{1000, 6300, 10000, 12500, 20000}
	us120 := []float64{0, 11.78, 15.68, 17.59, 21.64}
	us70 := []float64{0, 8.63, 12.33, 14.19, 18.18}
	got := lossOf(t, hz, func(p *Profile) { p.Deck.ReplayEqUS = 70 })
	for i := range hz {
		near(t, "equaliser error in dB", got[i], us120[i]-us70[i], 0.011)
	}
}

// A still deck must output nothing but the tone: the error of the interpolation stays 80
// dB below it, both nearly straight (a reading is then a small difference) and tilted.
// Our own bound.
func TestReadingAddsNothing(t *testing.T) {
	var profiles []Profile
	var tones []float64
	for _, hz := range []float64{1000, 10000, 15000} {
		for _, tilt := range []float64{0, 0.003, 0.3, 7} {
			profiles, tones = append(profiles, still(tilt, hz)), append(tones, hz)
		}
	}
	for i, got := range measure[[2]float64](t, 1, 1, profiles, "strongest") {
		near(t, "frequency", got[0], tones[i], 0.01)
		if got[1] > -80 {
			t.Errorf("%g Hz at %g': something else only %.1f dB below", tones[i], profiles[i].Deck.StartTiltArcmin, -got[1])
		}
	}
}
