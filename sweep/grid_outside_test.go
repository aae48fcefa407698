//go:build outside

package sweep

import (
	"math"
	"testing"

	benchgrid "headtrue/sweep/bench/grid"
)

// The short form of the grid where music has to be laid out first; the limits
// are such that only a clear regression breaks them.
func TestAccuracyOnMusicHasNotFallen(t *testing.T) {
	gridCell(t, "recording-20dB-known", 8).holds(t, 0.45, 25)
	gridCell(t, "recording-30dB-unknown", 8).holds(t, 0.6, 45)
	// one of them hears no delay at first in the 0.4 s of as found
	materialCell("recording.wav", 10).unknownMount().channelDelay(0.87, 0.5).hasty(1, 0.4).holds(t, 1, 6)
}

// The short form of the mixes: what is far off is flagged, what is clean is not.
func TestMixIsFlaggedAndCleanIsNot(t *testing.T) {
	var wrong, clean flagged
	for i, c := range append(benchgrid.Clean(), benchgrid.Mixes()...) {
		switch c.Name {
		case "clean-recording":
			set, _ := apart(mixCell(i, c, 8).table(t))
			for _, r := range set {
				clean.count(r)
			}
		case "mix-25%-60us-one", "mix-50%-150us-one":
			set, _ := apart(mixCell(i, c, 12).table(t))
			for _, r := range set {
				if math.Abs(r.off) > 1 {
					wrong.count(r)
				}
			}
		}
	}
	t.Logf("wrong %v, clean %v", wrong, clean)
	if wrong.runs < 6 || wrong.any < wrong.runs-1 || wrong.byMix < wrong.runs/2 || clean.any > 1 || clean.runs < 8 {
		t.Errorf("off by more than 1': %v; clean: %v", wrong, clean)
	}
}
