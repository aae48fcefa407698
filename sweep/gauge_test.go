package sweep

import (
	"context"
	"math"
	"testing"

	"headtrue/sweep/bench"
	"headtrue/sweep/record"
)

// Each search reports the tilt of as found, from music and from a tone heard while the screw
// turns, and differs a little from the others; at the end the head stands as found.
func TestGaugeFindsOftenAndChangesNothing(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		bench bench.Profile
		plan  Plan
	}{
		"music": {bench.Default(), Plan{}},
		"tone":  {toneBench(), Plan{ToneHz: 10000}},
	} {
		t.Run(name, func(t *testing.T) {
			r := newRig(t, c.bench, 5, c.plan)
			before := r.bench.Truth().ErrorArcmin
			end, err := Gauge(context.Background(), r.setup, 3)
			if err != nil || end.Outcome != record.Measured {
				t.Fatalf("%+v, %v", end, err)
			}
			var offs []float64
			seatings := 0
			for _, e := range r.entries {
				switch {
				case e.Decision != nil:
					offs = append(offs, *e.Decision.FoundOffArcmin)
				case e.Found != nil && e.Found.Seated != nil:
					seatings++
				}
			}
			if len(offs) != 3 || seatings != 1 || offs[0] == offs[1] || offs[1] == offs[2] {
				t.Errorf("found off by %.3f' with %d seatings, want three searches of their own with one seating", offs, seatings)
			}
			for _, off := range offs {
				if math.Abs(math.Abs(off)-math.Abs(before)) > 1.2 || off*before < 0 {
					t.Errorf("found %.2f' off, in truth %.2f'", off, before)
				}
			}
			if after := r.bench.Truth().ErrorArcmin; math.Abs(after-before) > 1 {
				t.Errorf("the head stood %.2f' off, now %.2f'", before, after)
			}
		})
	}
}
