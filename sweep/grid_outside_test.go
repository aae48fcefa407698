//go:build outside

package sweep

import "testing"

// The short form of the grid where music has to be laid out first; the limits
// are such that only a clear regression breaks them.
func TestAccuracyOnMusicHasNotFallen(t *testing.T) {
	gridCell(t, "recording-20dB-known", 8).holds(t, 0.45, 25)
}
