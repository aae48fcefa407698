//go:build outside

package sweep

import (
	"math"
	"os"
	"path/filepath"
	"testing"
)

// Far from its top a programme's delay is meaningless, and its treble rises and falls with
// the music: the head is still set at the top, or in few runs not at all.
func TestProgrammeFarFromItsTop(t *testing.T) {
	t.Parallel()
	starts := 16
	if testing.Short() {
		starts = 4
	}
	c := gridCell(t, "rendered-10dB-none", starts)
	c.after += 24
	c.profile.Programme.WAV = filepath.Join(os.Getenv("HEADTRUE_MATERIAL"), "piece-reverb.wav")
	c.profile.Deck.StartTiltArcmin, c.profile.Deck.StartTiltRangeArcmin = 80, 30
	c.profile.Tape.TiltRangeArcmin = 0
	set, unset := apart(c.table(t))
	if len(unset) > 1 {
		t.Errorf("%d of %d starts were given up: %v", len(unset), c.seeds, unset)
	}
	for _, r := range set {
		if math.Abs(r.off) > wrongLobeArcmin {
			t.Error(r)
		}
	}
}
