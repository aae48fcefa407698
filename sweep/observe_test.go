package sweep

import (
	"context"
	"math"
	"testing"

	"headtrue/sweep/bench"
	"headtrue/sweep/record"
	"headtrue/sweep/tape"
)

// Observe measures the tilt of the head plus the fixed delay of the channels, 3 us or 0.55'
// on the default bench; it needs no jig and moves nothing.
func TestObserveHearsTheTilt(t *testing.T) {
	t.Parallel()
	silence := bench.Default().Programme
	silence.Kind = "silence"
	for name, c := range map[string]struct {
		programme bench.Programme
		toneHz    float64
		outcome   record.Outcome
	}{
		"music":            {bench.Default().Programme, 0, record.Measured},
		"tone":             {bench.Tones(-10, 10000), 10000, record.Measured},
		"blank tape":       {silence, 0, record.NoTreble},
		"blank for a tone": {silence, 10000, record.ToneOver},
		"music for a tone": {bench.Default().Programme, 10000, record.NotReady},
		"another tone":     {bench.Tones(-10, 3150), 10000, record.NotReady},
	} {
		t.Run(name, func(t *testing.T) {
			p := bench.Default()
			p.Programme, p.Deck.StartTiltArcmin = c.programme, 4
			r := newRig(t, p, 3, Plan{ToneHz: c.toneHz})
			r.setup.Jig = nil
			end, err := Observe(context.Background(), r.setup)
			if err != nil || end.Outcome != c.outcome {
				t.Fatalf("%+v, %v; want %s", end, err, c.outcome)
			}
			var left *record.Left
			for _, e := range r.entries {
				if e.Left != nil {
					left = e.Left
				}
				if e.Found != nil {
					t.Error("as found is recorded, which restore would go back to")
				}
			}
			if c.outcome != record.Measured {
				if left != nil {
					t.Errorf("a figure from sound that cannot be judged: %+v", left)
				}
				return
			}
			want := r.bench.Truth().ErrorArcmin + tape.StereoCassette.Arcmin(p.Deck.ChannelDelayUS)
			if got := *left.OffArcmin; math.Abs(got-want) > 3*left.OffSDArcmin || left.OffSDArcmin > 0.5 {
				t.Errorf("%.2f' +- %.2f', in truth %.2f'", got, left.OffSDArcmin, want)
			}
		})
	}
}
