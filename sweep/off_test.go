package sweep

import (
	"context"
	"math"
	"testing"

	"headtrue/sweep/bench"
)

// offBench is a bench with the differences from the usual jig or limits.
type offBench struct {
	profile  bench.Profile
	homeSide int
	// Greatest errors of the record, as found and as left, arcmin.
	most, mostLeft float64
}

func offBenches() map[string]offBench {
	const most, mostLeft = 0.8, 0.3 // on a tone the greatest seen are 0.5 and 0.2
	blade, fast, other := toneBench(), toneBench(), toneBench()
	blade.Screw.BladeTiltArcmin = 3
	fast.Deck.SpeedErrorPercent, fast.Deck.StartTiltArcmin = 3, 40
	other.Screw.LeverMM = 5 // so steep that a period of the tone is a small part of a turn
	return map[string]offBench{
		"tone":                               {toneBench(), 1, most, mostLeft},
		"music":                              {bench.Default(), 1, most, most},
		"tone, a blade that tilts":           {blade, 1, 1.5, mostLeft}, // accuracy of the blade's own tilt
		"tone, a fast deck, two periods off": {fast, 1, most, mostLeft},
		"tone, home on the other side":       {other, -1, 1.2, mostLeft},
	}
}

// The record gives the tilt as found and as left; the bench has the truth.
func TestFoundAndLeftOffAreTheBenchsTruth(t *testing.T) {
	t.Parallel()
	for name, b := range offBenches() {
		t.Run(name, func(t *testing.T) {
			plan := Plan{WindowDeg: 360, ChannelDelayUS: b.profile.Deck.ChannelDelayUS, ChannelDelaySDUS: 0.5,
				GearingArcminPerTurn: 1550 / b.profile.Screw.LeverMM}
			if name != "music" {
				plan.ToneHz = 10000
			}
			for seed := range seeds(8) {
				r := newRig(t, b.profile, seed+1, plan)
				if b.homeSide < 0 {
					p := jigProfile()
					p.HomeSide = b.homeSide
					r.jig.Close()
					r.openAs(t, p)
				}
				if _, err := Align(context.Background(), r.setup); err != nil {
					t.Fatal(err)
				}
				d, truth := r.decision(), r.bench.Truth()
				left := r.entries[len(r.entries)-2].Left
				if d == nil || d.FoundOffArcmin == nil || left == nil || left.OffArcmin == nil {
					t.Fatalf("seed %d: decision %+v, left %+v: want both offs", seed, d, left)
				}
				want := truth.FoundTiltArcmin - truth.OptimumTiltArcmin
				if got := *d.FoundOffArcmin; math.Abs(got-want) > b.most {
					t.Errorf("seed %d: found off by %.2f' ±%.2f, the bench says %.2f'", seed, got, d.FoundOffSDArcmin, want)
				}
				mostLeft := b.mostLeft
				if name == "music" { // if the treble has set it, only a short dwell can be compared
					mostLeft = max(mostLeft, 2.5*left.OffSDArcmin)
				}
				if got := *left.OffArcmin; math.Abs(got-truth.ErrorArcmin) > mostLeft {
					t.Errorf("seed %d: left off by %.2f' ±%.2f, the bench says %.2f'", seed, got, left.OffSDArcmin, truth.ErrorArcmin)
				}
				r.close()
			}
		})
	}
}
