//go:build outside

package bench

import (
	"fmt"
	"math"
	"testing"

	"headtrue/dsp/pythontest"
)

// gapCase is a question for testdata/gap.py, gapAnswer its answer.
type gapCase struct {
	BowUM        float64   `json:"bow_um"`
	TaperPercent float64   `json:"taper_percent"`
	SkewArcmin   float64   `json:"skew_arcmin"`
	ContactDB    float64   `json:"contact_db"`
	WidthMM      float64   `json:"width_mm"`
	CentresMM    float64   `json:"centres_mm"`
	Tilts        []float64 `json:"tilts_arcmin"`
	Hz           float64   `json:"hz"`
}

type gapAnswer struct {
	LevelDB   [][2]float64 `json:"level_db"`
	LateUS    []float64    `json:"late_us"`
	Brightest float64      `json:"brightest_arcmin"`
	Along     float64      `json:"along_arcmin"`
}

func (c gapCase) profile(tilt float64) Profile {
	p := still(tilt, c.Hz)
	p.Deck.GapBowUM, p.Deck.SensitivityTaperPercent, p.Deck.GapSkewArcmin = c.BowUM, c.TaperPercent, c.SkewArcmin
	p.Deck.ContactDBPerArcmin = c.ContactDB
	p.Deck.CoreWidthMM, p.Deck.CoreCentresMM = c.WidthMM, c.CentresMM
	return p
}

// Level and delay over the tilt, for a bowed gap of uneven sensitivity, agree with
// scipy's quadrature across the width. So do the brightest tilt and the tilt at which the
// gaps lie along the pattern; the latter is from numpy's polyfit.
func TestGapLineAgainstQuadrature(t *testing.T) {
	tilts := []float64{-16, -5, -1.3, 0, 0.4, 2, 9}
	cases := []gapCase{
		{WidthMM: 0.6, CentresMM: 0.9, Tilts: tilts, Hz: 10000},
		{BowUM: 1, TaperPercent: 55, WidthMM: 0.6, CentresMM: 0.9, Tilts: tilts, Hz: 10000},
		{BowUM: -0.5, TaperPercent: 40, WidthMM: 0.6, CentresMM: 0.9, Tilts: tilts, Hz: 14000},
		{BowUM: 1, TaperPercent: 55, SkewArcmin: 4, WidthMM: 0.6, CentresMM: 0.9, Tilts: tilts, Hz: 10000},
		{BowUM: 1, TaperPercent: 55, ContactDB: -0.05, WidthMM: 0.5, CentresMM: 1, Tilts: tilts, Hz: 10000},
		{ContactDB: 0.1, WidthMM: 0.6, CentresMM: 0.9, Tilts: tilts, Hz: 6300},
	}
	var answers []gapAnswer
	pythontest.Ask(t, "testdata/gap.py", cases, &answers)
	for i, c := range cases {
		name := fmt.Sprintf("case %d: ", i)
		tr := alone(t, c.profile(0), 1).Truth()
		t.Logf("%sbrightest %.4f' (scipy %.4f'), lies along %.2g'", name, tr.BrightestTiltArcmin, answers[i].Brightest, tr.OptimumTiltArcmin)
		near(t, name+"brightest in arcmin", tr.BrightestTiltArcmin, answers[i].Brightest, 0.008)
		near(t, name+"lies along in arcmin", tr.OptimumTiltArcmin, answers[i].Along, 1e-6)
		profiles := []Profile{still(0, c.Hz)}
		for _, tilt := range c.Tilts {
			profiles = append(profiles, c.profile(tilt))
		}
		got := measureTones(t, []float64{c.Hz}, profiles...)
		for k, tilt := range c.Tilts {
			at := fmt.Sprintf("%sat %g': ", name, tilt)
			l, r := got[k+1][0][0], got[k+1][1][0]
			for ch, tone := range [][2]float64{l, r} {
				near(t, at+"level in dB", tone[0]-got[0][ch][0][0], answers[i].LevelDB[k][ch], 0.03)
			}
			late := math.Remainder(l[1]-r[1]-answers[i].LateUS[k]*360e-6*c.Hz, 360) / 360e-6 / c.Hz
			near(t, at+"right later than scipy's in us", late, 0, 0.02)
		}
	}
	strong := answers[1]
	if parts := math.Abs(strong.Brightest - strong.Along); parts < 1.2 || parts > 1.4 {
		t.Errorf("a bow of 1 um with a taper of 55 %% parts treble and delay by %g', want about 1.3'", parts)
	}
}
