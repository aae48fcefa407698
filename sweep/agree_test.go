package sweep

import (
	"context"
	"math"
	"strings"
	"testing"
)

// A fixed delay between the channels that differs from the plan contradicts the treble, even
// if the screw is hardly known: then the treble sets the head, and the end gives the reason.
// A delay as planned contradicts nothing.
func TestAFixedDelayThatIsNotAsSaidIsNoticed(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		us     float64
		differ bool
	}{{3, false}, {20, true}, {30, true}} {
		for seed := range seeds(3) {
			p := toneBench()
			p.Deck.ChannelDelayUS = c.us
			r := newRig(t, p, seed+1, Plan{ToneHz: 10000, WindowDeg: 360, ChannelDelayUS: 3, ChannelDelaySDUS: 2})
			end, err := Align(context.Background(), r.setup)
			if err != nil {
				t.Fatal(err)
			}
			if got := r.decision().Agreement == "differ"; got != c.differ {
				t.Errorf("delay %g us, seed %d: differ %v, want %v (%s)", c.us, seed, got, c.differ, r.decision().AgreementWhy)
			}
			if told := strings.Contains(end.Say, "a fixed delay of"); told != c.differ {
				t.Errorf("delay %g us, seed %d: told %v, want %v: %s", c.us, seed, told, c.differ, end.Say)
			}
			if off := r.bench.Truth().ErrorArcmin; math.Abs(off) > 0.6 {
				t.Errorf("delay %g us, seed %d: %.2f' off", c.us, seed, off)
			}
			r.close()
		}
	}
}
