package tape

import (
	"math"
	"testing"
)

// The table of azimuth loss in dB was computed independently of this program from L = 20
// log10 |sin x / x|, x = pi w tan(theta) f / v, v = 47.6 mm/s, w = 0.600 mm (formula:
// LossEffects.h of chalkwalk/chalkwalk-tape, commit 0151045). The delay per arcminute is
// s tan(theta)/v with s = 0.9 mm.
func TestAzimuthLossTable(t *testing.T) {
	arcmin := []float64{1, 2, 3, 5, 6, 10, 15, 20, 30}
	table := []struct {
		hz   float64
		loss []float64
		null float64
	}{
		{3150, []float64{0.00, 0.01, 0.02, 0.05, 0.07, 0.19, 0.43, 0.78, 1.79}, 86.56},
		{6300, []float64{0.01, 0.03, 0.07, 0.19, 0.28, 0.78, 1.79, 3.30, 8.46}, 43.29},
		{8000, []float64{0.01, 0.05, 0.11, 0.31, 0.45, 1.27, 2.97, 5.64, 17.51}, 34.09},
		{10000, []float64{0.02, 0.08, 0.17, 0.49, 0.70, 2.01, 4.86, 9.83, 20.97}, 27.27},
		{12500, []float64{0.03, 0.12, 0.27, 0.76, 1.11, 3.24, 8.29, 20.93, 13.40}, 21.82},
		{15000, []float64{0.04, 0.17, 0.39, 1.11, 1.62, 4.86, 13.91, 20.97, 15.30}, 18.18},
	}
	for _, row := range table {
		for i, a := range arcmin {
			if got := -Decibels(StereoCassette.AzimuthPower(a, row.hz)); math.Abs(got-row.loss[i]) > 0.011 {
				t.Errorf("%g Hz at %g': loss %.3f dB, table %.2f", row.hz, a, got, row.loss[i])
			}
		}
		if got := StereoCassette.NullArcmin(row.hz); math.Abs(got-row.null) > 0.011 {
			t.Errorf("%g Hz: first null at %.3f', table %.2f'", row.hz, got, row.null)
		}
	}
	if got := StereoCassette.USPerArcmin(); math.Abs(got-5.50) > 0.005 {
		t.Errorf("%.4f us per arcmin, table 5.50", got)
	}
}

// McKnight, Azimuth in a Magnetic Tape Recorder (2000): 300 microradians at 10 kHz on
// edge tracks of 2 mm. The delay formula with s = width - 2 mm gives 48.9, 119.4, 261.5
// and 24.4 degrees; the rounded table has 45, 110, 260 and 22. The test checks scale and
// sign, within 11.5 %.
func TestPhaseOfMcKnightsTable(t *testing.T) {
	for _, row := range []struct{ widthMM, speedMMPerS, degrees float64 }{
		{6.3, 95, 45}, {12.5, 95, 110}, {25, 95, 260}, {6.3, 190, 22},
	} {
		tilt := 300e-6 / radPerArcmin
		edges := Format{SpeedMMPerS: row.speedMMPerS, TrackSpacingMM: row.widthMM - 2}
		us := edges.Microseconds(tilt)
		if got := us * 1e-6 * 10000 * 360; math.Abs(got/row.degrees-1) > 0.115 {
			t.Errorf("%g mm at %g mm/s: %.1f degrees, table %g", row.widthMM, row.speedMMPerS, got, row.degrees)
		}
	}
}

// At the half width the curve has fallen by the given number of dB, on the main lobe.
func TestHalfWidth(t *testing.T) {
	for _, m := range []Material{StereoCassette.Tone(10000), StereoCassette.Programme(), StereoCassette.Tone(3150)} {
		for _, db := range []float64{1, 3, 6, 10} {
			w := m.HalfWidthArcmin(db)
			if got := -Decibels(m.Power(w)); math.Abs(got-db) > 1e-6 || w > m.NullArcmin() {
				t.Errorf("%+v: %g dB down at %.2f', really %.4f dB", m, db, w, got)
			}
		}
	}
}
