package app

import (
	"context"
	"errors"
	"slices"
	"testing"

	"headtrue/dsp/audio"
)

// counter is a source of blocks of 10 frames that cancels after a number of blocks.
type counter struct {
	next   int64
	left   int // blocks until cancel
	cancel context.CancelFunc
}

func (c *counter) Rate() int    { return 48000 }
func (c *counter) Close() error { return nil }

func (c *counter) Next(ctx context.Context) (audio.Block, error) {
	if ctx.Err() != nil {
		return audio.Block{}, ctx.Err()
	}
	b := audio.Block{Start: c.next, Left: make([]float64, 10), Right: make([]float64, 10)}
	c.next = b.End()
	if c.left--; c.left == 0 {
		c.cancel()
	}
	return b, nil
}

// stands is the poll of a jig that answers.
func stands() error { return nil }

// Sound that is discarded while a person works costs no tape and leaves no gap.
func TestSoundThatRunsByIsNotCounted(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	src := &counter{left: 5, cancel: cancel}
	sound := &Tap{Source: src}
	for i := range int64(2) {
		b, err := sound.Next(context.Background())
		if err != nil || b.Start != 10*i {
			t.Fatalf("block %d begins at %d, %v", i, b.Start, err)
		}
	}
	if err := sound.drain(ctx, stands); err != nil {
		t.Fatal(err)
	}
	if src.next != 50 {
		t.Fatalf("drained to %d, want 50", src.next)
	}
	if b, err := sound.Next(context.Background()); err != nil || b.Start != 50 {
		t.Errorf("the block after begins at %d, %v; want 50, for samples keep their numbers", b.Start, err)
	}
}

// cutOff fails like a stream whose server ended.
type cutOff struct{ counter }

func (*cutOff) Next(context.Context) (audio.Block, error) { return audio.Block{}, audio.ErrStopped }

func TestSoundThatStopsWhileAPersonWorksIsTold(t *testing.T) {
	sound := &Tap{Source: &cutOff{}}
	if err := sound.drain(context.Background(), stands); !errors.Is(err, audio.ErrStopped) {
		t.Errorf("got %v, want ErrStopped", err)
	}
}

// The jig is polled once per second of sound while a person works, and an error ends the
// waiting: the cable may come off at that time.
func TestTheJigIsAskedWhileAPersonWorks(t *testing.T) {
	gone := errors.New("the line is gone")
	var asked []int64
	src := &counter{left: -1}
	err := (&Tap{Source: src}).drain(context.Background(), func() error {
		if asked = append(asked, src.next); len(asked) == 3 {
			return gone
		}
		return nil
	})
	if !errors.Is(err, gone) || !slices.Equal(asked, []int64{48000, 96000, 144000}) {
		t.Errorf("asked at frames %d, then %v", asked, err)
	}
}
