//go:build outside

package speed

import (
	"encoding/binary"
	"math"
	"os"
	"path/filepath"
	"testing"

	"headtrue/dsp/pythontest"
)

// Speed, weighted and unweighted flutter agree with testdata/check.py, which demodulates
// with scipy.signal.hilbert and weights by the published table: speed within 0.0005 %,
// flutter within 3 % of it. The flutter is sines over the whole band, with hiss 40 dB down. Their
// frequencies have no simple relation: the 2-sigma value of related ones depends on phases,
// which a spectrum weighted by the table alone does not turn.
func TestFlutterAsScipySeesIt(t *testing.T) {
	const seconds = 40
	tests := []struct {
		nominal, carrier float64
		wobbles          []wobble
	}{
		{3150, 3150 * 1.004, []wobble{{0.05, 0.775}, {0.06, 7.6}, {0.02, 13.25}, {0.03, 41.1}, {0.01, 93.7}}},
		{3000, 3000 * 0.98, []wobble{{0.2, 0.5}, {0.3, 1.125}, {0.1, 2.7}, {0.15, 9.05}}},
		{10000, 10000 * 1.012, []wobble{{0.02, 4.65}, {0.03, 25.2}, {0.04, 66.6}, {0.05, 150.4}, {0.02, 187}}},
		{315, 315 * 1.02, []wobble{{0.5, 1.2}, {0.3, 5.05}, {0.2, 11.375}}},
	}
	if testing.Short() {
		tests = tests[1:3]
	}
	for _, test := range tests {
		loop := math.Round(test.carrier*seconds) / seconds
		x := tone(testRate, seconds, loop, 0.1, test.wobbles...)
		left, right := hissed(x, 1, 0.001/math.Sqrt2), hissed(x, 2, 0.001/math.Sqrt2)
		path := filepath.Join(t.TempDir(), "samples")
		file, err := os.Create(path)
		if err != nil {
			t.Fatal(err)
		}
		mixed := make([]float64, 0, 2*len(left))
		for i := range left {
			mixed = append(mixed, left[i], right[i])
		}
		if err := binary.Write(file, binary.LittleEndian, mixed); err != nil {
			t.Fatal(err)
		}
		file.Close()
		var want struct {
			Speed, RMS float64
			Peak       float64 `json:"weighted_peak"`
			Weighted   float64 `json:"weighted_rms"`
		}
		pythontest.Read(t, pythontest.Run(t, nil, "testdata/check.py", path, testRate, test.nominal), &want)
		r := heard(test.nominal, left, right)
		t.Logf("%v Hz: speed %.5f %%, flutter %.4f, %.4f, %.4f; scipy %.5f, %.4f, %.4f, %.4f", test.nominal,
			r.SpeedPercent.Value, r.Flutter.WeightedPeak, r.Flutter.WeightedRMS, r.Flutter.RMS, want.Speed, want.Peak, want.Weighted, want.RMS)
		near(t, "speed", r.SpeedPercent.Value, want.Speed, 0.0005)
		near(t, "weighted peak", r.Flutter.WeightedPeak, want.Peak, 0.03*want.Peak)
		near(t, "weighted rms", r.Flutter.WeightedRMS, want.Weighted, 0.03*want.Weighted)
		near(t, "rms", r.Flutter.RMS, want.RMS, 0.03*want.RMS)
	}
}
