package sweep

import (
	"context"
	"testing"

	"headtrue/sweep/bench"
	"headtrue/sweep/record"
)

// If the blade leaves its slot late, after the search, the head stays in the position
// heard last: the run must not call it set.
func TestABladeThatLeavesAtTheEndIsNoticed(t *testing.T) {
	t.Parallel()
	p := bench.Default()
	p.Programme.MusicSeconds = 10
	for seed := range seeds(2) {
		p.Faults = []bench.Fault{{Kind: bench.BladeOut, AtSeconds: 22 + 3*float64(seed)}}
		r := newRig(t, p, seed+3, Plan{})
		end, err := Align(context.Background(), r.setup)
		if truth := r.bench.Truth(); err != nil || end.Outcome.Standing() == record.Set && truth.ErrorArcmin*truth.ErrorArcmin > 4 {
			t.Errorf("seed %d: %v, %s: %s; %.2f' off", seed, err, end.Outcome, end.Say, truth.ErrorArcmin)
		}
		r.close()
	}
}
