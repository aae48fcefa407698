package sweep

import (
	"context"
	"math"
	"testing"

	"headtrue/sweep/record"
)

func TestRaceAlignOnTheTone(t *testing.T) {
	t.Parallel()
	for seed := range seeds(4) {
		r := newRig(t, toneBench(), seed, Plan{ToneHz: 10000})
		r.setup.Tell = func(e Event) {
			if e.Step != nil && !e.Step.Turning {
				t.Logf("%6.1fs %-10s %7.1f deg %6.1f dB %7.1f us", e.TapeSeconds, e.Phase, e.Step.ScrewDeg, e.Step.Reading.TrebleDB, e.Step.Reading.DelayTrackedUS)
			} else if e.Step == nil {
				t.Logf("%6.1fs %-10s %s", e.TapeSeconds, e.Phase, e.Say)
			}
		}
		end, err := Align(context.Background(), r.setup)
		if err != nil {
			t.Fatal(err)
		}
		truth := r.bench.Truth()
		if end.Outcome != record.Aligned {
			t.Errorf("seed %d: %s: %s", seed, end.Outcome, end.Say)
		}
		if math.Abs(truth.ErrorArcmin) > 1 {
			t.Errorf("seed %d: %.2f' off in truth", seed, truth.ErrorArcmin)
		}
		if d := r.decision(); d != nil {
			d.Curve = nil
			t.Logf("%+v", *d)
		}
		t.Logf("truth %+v, tape %.1f s", truth, r.tapeSeconds())
	}
}
