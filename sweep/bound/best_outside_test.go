//go:build outside

package bound

import (
	"testing"

	"headtrue/dsp/pythontest"
)

// The best mean against numpy and scipy: the covariance in closed form over time, solved
// by Cholesky.
func TestBestMeanAgainstScipy(t *testing.T) {
	type question struct {
		RMS      float64 `json:"rms"`
		LowHz    float64 `json:"low_hz"`
		HighHz   float64 `json:"high_hz"`
		OneOverF bool    `json:"one_over_f"`
		Seconds  float64 `json:"seconds"`
		Noise    float64 `json:"noise"`
		Cells    int     `json:"cells"`
	}
	var asked []question
	var got []float64
	for _, w := range []Wander{{1, 0.2, 5, false}, {1, 0.2, 5, true}, {2, 0.05, 5, true}, {0.3, 0.5, 2, false}} {
		for _, seconds := range []float64{0.5, 5, 20} {
			for _, noise := range []float64{0.0003, 0.02} {
				n := len(w.cells(seconds, cellsPerPeriod, fewestCells))
				asked = append(asked, question{w.RMSArcmin, w.LowHz, w.HighHz, w.OneOverF, seconds, noise, n})
				got = append(got, w.BestMeanSDArcmin(seconds, noise))
			}
		}
	}
	var want []float64
	pythontest.Ask(t, "testdata/best.py", asked, &want)
	if len(want) != len(got) {
		t.Fatalf("%d figures for %d cases", len(want), len(got))
	}
	for i := range got {
		t.Logf("%+v: %.6f', scipy %.6f'", asked[i], got[i], want[i])
		within(t, "best mean", got[i], want[i], 1e-5)
	}
}
