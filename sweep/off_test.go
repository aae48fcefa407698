package sweep

import (
	"context"
	"math"
	"testing"

	"headtrue/sweep/bench"
)

// The record says how far off the head was found and left; the bench knows.
func TestFoundAndLeftOffAreTheBenchsTruth(t *testing.T) {
	const most = 0.8 // arcmin; 0.5 is the most seen
	for name, profile := range map[string]bench.Profile{"tone": toneBench(), "music": bench.Default()} {
		t.Run(name, func(t *testing.T) {
			plan := Plan{WindowDeg: 360, ChannelDelayUS: profile.Deck.ChannelDelayUS, ChannelDelaySDUS: 0.5}
			if name == "tone" {
				plan.ToneHz = 10000
			}
			for seed := range seeds(8) {
				r := newRig(t, profile, seed+1, plan)
				if _, err := Align(context.Background(), r.setup); err != nil {
					t.Fatal(err)
				}
				d, truth := r.decision(), r.bench.Truth()
				left := r.entries[len(r.entries)-2].Left
				if d == nil || d.FoundOffArcmin == nil || left == nil || left.OffArcmin == nil {
					t.Fatalf("seed %d: decision %+v, left %+v: want both offs", seed, d, left)
				}
				want := truth.FoundTiltArcmin - truth.OptimumTiltArcmin
				if got := *d.FoundOffArcmin; math.Abs(got-want) > most {
					t.Errorf("seed %d: found off by %.2f' ±%.2f, the bench says %.2f'", seed, got, d.FoundOffSDArcmin, want)
				}
				if got := *left.OffArcmin; math.Abs(got-truth.ErrorArcmin) > most {
					t.Errorf("seed %d: left off by %.2f' ±%.2f, the bench says %.2f'", seed, got, left.OffSDArcmin, truth.ErrorArcmin)
				}
				r.close()
			}
		})
	}
}
