package sweep

import (
	"strings"
	"testing"

	"headtrue/sweep/bench"
	"headtrue/sweep/record"
)

// An input delays all sound by 1 s, with a settling time of 0.4 s: at each place the head is
// heard while it still turns. The run does not set the head, puts it back, and names the
// setting; with that setting the head is set.
func TestSoundLaterThanTheSettlingTime(t *testing.T) {
	t.Parallel()
	for _, settle := range []float64{0.4, 1.5} {
		c := musicCell(1)
		c.after = 9101
		c.profile.Late = bench.Late{SoundMillis: 1000}
		c.plan.SettleSeconds = settle
		r := newRig(t, c.profile, c.after+1, c.plan)
		end, err := Align(t.Context(), r.setup)
		if err != nil {
			t.Fatal(err)
		}
		truth := r.bench.Truth()
		if settle > 1 {
			if d := r.decision(); end.Outcome != record.Aligned || d == nil || truth.ErrorArcmin > 4*d.Optimum.SDArcmin || truth.ErrorArcmin < -4*d.Optimum.SDArcmin {
				t.Errorf("settling for %g s: %s, %.2f' off: %s", settle, end.Outcome, truth.ErrorArcmin, end.Say)
			}
			continue
		}
		if end.Outcome != record.TooUncertain || !end.PutBack || !strings.Contains(end.Say, "the sound arrives too late") || !strings.Contains(end.Do, "settle_ms to 1") {
			t.Errorf("settling for %g s: %s, %.2f' off, put back %v: %s; %s", settle, end.Outcome, truth.ErrorArcmin, end.PutBack, end.Say, end.Do)
		}
	}
}
