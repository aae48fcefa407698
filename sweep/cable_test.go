package sweep

import (
	"context"
	"errors"
	"fmt"
	"testing"

	"headtrue/dsp/audio"
	"headtrue/jig/virtual"
	"headtrue/sweep/bench"
	"headtrue/sweep/record"
)

// The cable is pulled at many instants of a run, while the sound never ends: each run ends
// within seconds and reports the lost link.
func TestCableGoneAtAnyInstant(t *testing.T) {
	t.Parallel()
	plan := Plan{ToneHz: 10000}
	for at := 5.5; at < 11; at += 0.61 {
		t.Run(fmt.Sprintf("%.2f s", at), func(t *testing.T) {
			p := toneBench()
			p.JigFaults = []bench.JigFault{{Kind: virtual.FaultCableGone, AtSeconds: at}}
			r := newRig(t, p, 1, plan)
			r.setup.Sound = &soundUntil{Source: r.bench, seconds: at + 20}
			end, err := Align(context.Background(), r.setup)
			if err != nil {
				t.Fatal(err)
			}
			if end.Outcome != record.LinkLost {
				t.Errorf("outcome %s (%s), want %s", end.Outcome, end.Say, record.LinkLost)
			}
		})
	}
}

// soundUntil is sound that a run must not read beyond a number of seconds.
type soundUntil struct {
	audio.Source
	seconds float64
}

func (s *soundUntil) Next(ctx context.Context) (audio.Block, error) {
	b, err := s.Source.Next(ctx)
	if err == nil && float64(b.End()) > s.seconds*float64(s.Rate()) {
		err = errors.New("the run goes on listening")
	}
	return b, err
}
