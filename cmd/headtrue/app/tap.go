package app

import (
	"context"

	"headtrue/dsp/audio"
)

// Tap is the sound of a run, of which stretches can be let run by while a person is
// waited for. Samples keep their numbers: they are the run's clock.
type Tap struct {
	audio.Source
	end  int64              // sample number after the last block
	lost func(frames int64) // is told of samples that never came; may be nil
}

func (t *Tap) hear(ctx context.Context) (audio.Block, error) {
	b, err := t.Source.Next(ctx)
	if err == nil && b.Lost > 0 && t.lost != nil {
		t.lost(b.Lost)
	}
	return b, err
}

// Next implements audio.Source.
func (t *Tap) Next(ctx context.Context) (audio.Block, error) {
	b, err := t.hear(ctx)
	if err != nil {
		return b, err
	}
	t.end = b.End()
	return b, nil
}

// drain lets sound run by until ctx ends, and polls about once a second of it.
func (t *Tap) drain(ctx context.Context, poll func() error) error {
	polled := t.end
	for {
		b, err := t.hear(ctx)
		if err == nil {
			t.end = b.End()
		}
		if err == nil && t.end-polled >= int64(t.Rate()) {
			polled = t.end
			err = poll()
		}
		if err != nil && ctx.Err() != nil {
			return nil
		}
		if err != nil {
			return err
		}
	}
}

// Seconds is how much has been heard.
func (t *Tap) Seconds() float64 { return float64(t.end) / float64(t.Rate()) }
