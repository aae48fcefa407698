package sweep

import (
	"context"
	"errors"
	"io"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"headtrue/dsp"
	"headtrue/dsp/audio"
	"headtrue/sweep/record"
	"headtrue/sweep/session"
)

// An input is set to mono: the delay would be 0 with no uncertainty. A channel that differs
// by noise of its own, or by one step of 16 bits, is not mono.
func TestMonoIsNotMeasuredAsPerfect(t *testing.T) {
	for name, c := range map[string]struct {
		differ func(*rand.Rand) float64
		mono   bool
	}{
		"the same":       {func(*rand.Rand) float64 { return 0 }, true},
		"hiss at -60 dB": {func(r *rand.Rand) float64 { return 1e-3 * r.NormFloat64() }, false},
		"one step":       {func(*rand.Rand) float64 { return 1.0 / (1 << 15) }, false},
	} {
		draw := rand.New(rand.NewPCG(1, 2))
		const frames = 3 * 48000
		b := audio.Block{Left: make([]float64, frames), Right: make([]float64, frames)}
		for i := range frames {
			b.Left[i] = math.Round(0.1*draw.NormFloat64()*(1<<15)) / (1 << 15)
			b.Right[i] = b.Left[i] + c.differ(draw)
		}
		r, err := session.Listen(context.Background(), &once{block: b}, 0, 0)
		if err != nil {
			t.Fatal(err)
		}
		told := slices.ContainsFunc(r.Why, func(why string) bool { return strings.Contains(why, "mono") })
		if told != c.mono || r.Usable == c.mono {
			t.Errorf("%s: usable %v, %q", name, r.Usable, r.Why)
		}
		m := dsp.NewMeter(48000, 0)
		m.Add(b)
		err = planned(Plan{}).Judge(r, m.Reading())
		var s *session.Stop
		if got := errors.As(err, &s) && s.Outcome == record.NotReady; got != c.mono {
			t.Errorf("%s: a run would get %v", name, err)
		}
	}
}

// Samples that are not numbers are counted on the way from the block to the reading.
func TestNoNumbersAreCounted(t *testing.T) {
	draw := rand.New(rand.NewPCG(3, 4))
	b := audio.Block{NotNumbers: 7, Left: make([]float64, 96000), Right: make([]float64, 96000)}
	for i := range b.Left {
		b.Left[i] = 0.1 * draw.NormFloat64()
		b.Right[i] = b.Left[i] + 0.001*draw.NormFloat64()
	}
	r, err := session.Listen(context.Background(), &once{block: b}, 0, 0)
	if err != nil || r.NotNumbers != 7 || r.Usable {
		t.Errorf("%d no numbers, usable %v, %v; want 7 and not usable", r.NotNumbers, r.Usable, err)
	}
}

// once is a source of one block.
type once struct {
	block audio.Block
	given bool
}

func (o *once) Rate() int { return 48000 }

func (o *once) Next(context.Context) (audio.Block, error) {
	if o.given {
		return audio.Block{}, io.EOF
	}
	o.given = true
	return o.block, nil
}

func (o *once) Close() error { return nil }
