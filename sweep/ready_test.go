package sweep

import (
	"context"
	"slices"
	"testing"

	"headtrue/dsp/audio"
)

// queued is sound of which some waits in a buffer before the first read; told means that the
// source reports how much.
type queued struct {
	audio.Source
	held []audio.Block
	told bool
}

func queue(t *testing.T, src audio.Source, seconds float64, told bool) *queued {
	t.Helper()
	q := &queued{Source: src, told: told}
	for got := 0; float64(got) < seconds*float64(src.Rate()); {
		b, err := src.Next(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		b.Left, b.Right = slices.Clone(b.Left), slices.Clone(b.Right)
		q.held = append(q.held, b)
		got += b.Frames()
	}
	return q
}

func (q *queued) Next(ctx context.Context) (audio.Block, error) {
	if len(q.held) == 0 {
		return q.Source.Next(ctx)
	}
	b := q.held[0]
	q.held = q.held[1:]
	if q.told {
		b.Waiting = len(q.held) * b.Frames()
	}
	return b, nil
}

// Sound that waited before the check began does not count for the rate. A sound server
// reports its amount; a pipe does not: it holds 64 KiB (pipe(7)), a third of a second of
// 16-bit stereo at 48 kHz, plus the sound before it.
func TestQueuedSoundDoesNotCountForTheRate(t *testing.T) {
	for _, c := range []struct {
		seconds float64
		told    bool
	}{{0, false}, {0.6, false}, {0.6, true}, {4, true}} {
		r := newRig(t, toneBench(), 1, Plan{ToneHz: 10000})
		r.setup.Sound = queue(t, r.bench, c.seconds, c.told)
		checks, err := Ready(context.Background(), r.setup)
		if err != nil {
			t.Fatal(err)
		}
		for _, ch := range checks.Checks {
			if ch.Name == "sampling rate" && ch.Verdict != Pass {
				t.Errorf("%.1f s waiting, told %v: %s: %s", c.seconds, c.told, ch.Verdict, ch.Found)
			}
		}
	}
}

// fast is sound at another rate than it claims.
type fast struct{ audio.Source }

func (f fast) Rate() int { return f.Source.Rate() * 10 / 11 }

// A rate that is wrong by a tenth is detected.
func TestWrongRateIsSeen(t *testing.T) {
	r := newRig(t, toneBench(), 1, Plan{})
	r.setup.Sound = fast{r.bench}
	checks, _ := Ready(context.Background(), r.setup)
	for _, ch := range checks.Checks {
		if ch.Name == "sampling rate" && ch.Verdict == Doubt {
			return
		}
	}
	t.Errorf("no doubt of the rate in %+v", checks.Checks)
}

// The check names the first firmware as one to replace, but not the present one or others.
func TestFirmwareWithTheEarlyWrapIsNamed(t *testing.T) {
	for firmware, wraps := range map[string]bool{"headtrue 1.0": true, "headtrue 1.1": false, "headtrue 1.10": false, "virtual 1.0": false} {
		if got := clockWrapsEarly(firmware); got != wraps {
			t.Errorf("%s: wraps early %v", firmware, got)
		}
	}
}
