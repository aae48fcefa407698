package sweep

import (
	"context"
	"math"
	"strings"
	"testing"

	"headtrue/sweep/bench"
	"headtrue/sweep/record"
	"headtrue/sweep/search"
)

// A blade whose pressure tilts the head is allowed for: the head is right once the blade is
// withdrawn.
func TestBladeThatTiltsIsAllowedFor(t *testing.T) {
	t.Parallel()
	for _, tilt := range []float64{-3, 3} {
		for _, reversed := range []bool{false, true} {
			for seed := range seeds(3) {
				p := toneBench()
				p.Screw.BladeTiltArcmin, p.Screw.Reversed = tilt, reversed
				p.Deck.StartTiltArcmin = 12 // near enough to be heard well at the start
				r := newRig(t, p, seed, Plan{ToneHz: 10000})
				end, err := Align(context.Background(), r.setup)
				if err != nil || end.Outcome != record.Aligned || !strings.Contains(end.Say, "the seated blade") {
					t.Errorf("blade %v', reversed %v, seed %d: %v, %s: %s", tilt, reversed, seed, err, end.Outcome, end.Say)
				}
				if truth := r.bench.Truth(); truth.BladeSeated || math.Abs(truth.ErrorArcmin) > 1 {
					t.Errorf("blade %v', reversed %v, seed %d: %.2f' off, blade seated %v", tilt, reversed, seed, truth.ErrorArcmin, truth.BladeSeated)
				}
			}
		}
	}
}

// A tilt by the blade is usually within the noise: then it must not shift the target.
func TestBladeThatHardlyTiltsIsLeftAlone(t *testing.T) {
	t.Parallel()
	for _, p := range []bench.Profile{toneBench(), bench.Default()} {
		for seed := range seeds(12) {
			plan := Plan{}
			if p.Programme.Kind == "tones" {
				plan.ToneHz = 10000
			}
			r := newRig(t, p, seed, plan)
			run := begin(r.setup)
			if err := run.asFound(context.Background()); err != nil {
				t.Fatal(err)
			}
			if run.Blade != (search.BladeTilt{}) {
				t.Errorf("%s, seed %d: a blade of %v' is taken for %+v", p.Programme.Kind, seed, p.Screw.BladeTiltArcmin, run.Blade)
			}
		}
	}
}

// A screw that turns as the motor is released is heard with the blade away, and reported.
func TestScrewThatTurnsAtTheReleaseIsTold(t *testing.T) {
	t.Parallel()
	told := 0
	for seed := range seeds(8) {
		p := toneBench()
		p.Screw.SettleTurnsScrew, p.Screw.SettleSteps, p.Screw.LeverMM = true, 2, 5 // up to 3.1'
		r := newRig(t, p, seed, Plan{ToneHz: 10000, GearingArcminPerTurn: 310})
		end, err := Align(context.Background(), r.setup)
		if err != nil {
			t.Fatal(err)
		}
		off := r.bench.Truth().ErrorArcmin
		says := strings.Contains(end.Say, "with the blade away")
		if math.Abs(off) > 1.8 && (!says || end.Outcome != record.LessCertain || end.Do == "") || math.Abs(off) < 0.6 && says {
			t.Errorf("seed %d: %.2f' off: %s: %s; %s", seed, off, end.Outcome, end.Say, end.Do)
		}
		if says {
			told++
		}
	}
	if told == 0 {
		t.Error("the screw turned at no release: nothing was tested")
	}
}
