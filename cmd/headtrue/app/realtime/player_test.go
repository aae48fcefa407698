package realtime

import (
	"bytes"
	"context"
	"encoding/hex"
	"errors"
	"io"
	"math/rand/v2"
	"slices"
	"testing"
	"testing/synctest"
	"time"

	"headtrue/dsp/audio"
	protocol "headtrue/firmware-protocol"
	"headtrue/jig/jigtest"
	"headtrue/jig/virtual"
	"headtrue/sweep/bench"
)

// playTo is a player whose bench is never late.
func playTo(out io.Writer) *player {
	return &player{out: out, holds: bench.NewHolds(bench.Late{}, 1), backlog: backlog}
}

// timed is a sink that records when blocks are written to it, and takes only as many as it has
// room for.
type timed struct {
	begun  time.Time
	at     []time.Duration
	room   int
	hangUp chan struct{} // ends a write that hangs
}

func (s *timed) Write(p []byte) (int, error) {
	if len(s.at) == s.room {
		<-s.hangUp
		return 0, io.ErrClosedPipe
	}
	s.at = append(s.at, time.Since(s.begun))
	return len(p), nil
}

func deckOf(t *testing.T, p bench.Profile, seed uint64) (*bench.Bench, *virtual.Jig) {
	t.Helper()
	p.Programme = bench.Tones(-20, 10000)
	v := virtual.New(p.JigFor(seed))
	b, err := bench.New(p, seed, &PacedJig{Jig: v})
	if err != nil {
		t.Fatal(err)
	}
	return b, v
}

// blockTime is the length of a block of the bench: 1024 frames.
const blockTime = 1024 * time.Second / bench.Rate

// endOf is when block k (from 0) of a bench that began at 0 is over: lead earlier than by the
// clock, but not before 0.
func endOf(k int) time.Duration { return max(0, time.Duration(k+1)*blockTime-lead) }

// alike allows for the rounding of a frame to nanoseconds.
func alike(a, b time.Duration) bool { return (a - b).Abs() < 20*time.Microsecond }

// The time in the jig's status is always at most 2 ms old, although sound is made in blocks of
// 21 ms, and whatever the sink does.
func TestTheJigsTimeIsFresh(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ctx, cancel := context.WithCancel(t.Context())
		defer cancel()
		b, v := deckOf(t, bench.Default(), 1)
		c := jigtest.NewClient(t, virtual.Pipe(t.Context(), v))
		begun := time.Now().Add(-lead)
		sink := &timed{room: 20, hangUp: make(chan struct{})}
		defer close(sink.hangUp)
		ended := make(chan error, 1)
		go func() { ended <- playTo(sink).play(ctx, b) }()
		draw := rand.New(rand.NewPCG(1, 2))
		var oldest time.Duration
		for range 500 {
			time.Sleep(time.Duration(draw.IntN(20_000)) * time.Microsecond)
			s := c.Must(protocol.TypeStatus, nil)
			age := time.Since(begun) - time.Duration(s.Micros)*time.Microsecond
			if age < -20*time.Microsecond || age > 2*time.Millisecond+20*time.Microsecond {
				t.Fatalf("a status is %v old", age)
			}
			oldest = max(oldest, age)
		}
		if oldest < 500*time.Microsecond {
			t.Errorf("no status is older than %v: the jig's clock is not looked at between its steps", oldest)
		}
		// The sink has taken nothing for seconds: play still ends.
		cancel()
		if err := <-ended; !errors.Is(err, context.Canceled) {
			t.Errorf("play ended with %v", err)
		}
		if len(sink.at) != sink.room {
			t.Errorf("the sink took %d blocks, want %d", len(sink.at), sink.room)
		}
	})
}

// Blocks are written when their holds are over, in order; the blocks themselves, and so the
// jig's clock, are not late.
func TestBlocksAreHeldBack(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ctx, cancel := context.WithTimeout(t.Context(), 20*time.Second)
		defer cancel()
		p := bench.Default()
		late := bench.Late{HeldPercent: 10, HeldMillis: 60, HeldMostMillis: 180}
		b, _ := deckOf(t, p, 3)
		sink := &timed{begun: time.Now(), room: 1 << 20}
		if err := Play(ctx, b, late, 3, "-", sink); !errors.Is(err, context.DeadlineExceeded) {
			t.Fatal(err)
		}
		holds, held, latest := bench.NewHolds(late, 3), 0, time.Duration(0)
		for k, at := range sink.at {
			hold := time.Duration(holds.Next(blockTime.Seconds()) * float64(time.Second))
			if want := endOf(k) + hold; k >= 5 && !alike(at, want) {
				t.Fatalf("block %d was written at %v, want %v", k, at, want)
			}
			if hold > 0 {
				held++
			}
			latest = max(latest, hold)
		}
		if len(sink.at) < 920 || held < 100 || latest < 150*time.Millisecond {
			t.Errorf("%d blocks, %d held, by %v at most", len(sink.at), held, latest)
		}
		if !slices.IsSorted(sink.at) {
			t.Error("blocks were written out of order")
		}
	})
}

// A server paces the sound: no block is held back from it.
func TestNothingIsHeldBackFromAPlayer(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ctx, cancel := context.WithTimeout(t.Context(), 5*time.Second)
		defer cancel()
		b, _ := deckOf(t, bench.Default(), 3)
		sink := &timed{begun: time.Now(), room: 1 << 20}
		late := bench.Late{HeldPercent: 50, HeldMillis: 60, HeldMostMillis: 180}
		player := newPlayer(late, 3, "pulse:deck", sink)
		player.starts = false // at the start it drops sound that the server has no room for
		_ = player.play(ctx, b)
		for k, at := range sink.at {
			if want := endOf(k); !alike(at, want) {
				t.Fatalf("block %d was written at %v, want %v", k, at, want)
			}
		}
		if len(sink.at) < 230 {
			t.Errorf("only %d blocks", len(sink.at))
		}
	})
}

// After a stall shorter than lead the jig's clock catches up; after a longer one it continues
// from where it stood.
func TestAStallOfTheMachine(t *testing.T) {
	for _, c := range []struct{ stall, want time.Duration }{
		{90 * time.Millisecond, 10 * time.Millisecond},
		{150 * time.Millisecond, 98 * time.Millisecond}, // the step with the stall is over
	} {
		synctest.Test(t, func(t *testing.T) {
			p := &PacedJig{Jig: virtual.New(virtual.Options{})}
			p.Advance(bench.Rate)
			time.Sleep(c.stall)
			begun := time.Now()
			p.Advance(bench.Rate / 10)
			if took := time.Since(begun); !alike(took, c.want) {
				t.Errorf("after a stall of %v 100 ms of sound took %v, want %v", c.stall, took, c.want)
			}
		})
	}
}

// twoBlocks is a source of two blocks.
type twoBlocks struct{ n int }

func (*twoBlocks) Rate() int    { return 48000 }
func (*twoBlocks) Close() error { return nil }

func (s *twoBlocks) Next(context.Context) (audio.Block, error) {
	s.n++
	switch s.n {
	case 1:
		return audio.Block{Left: []float64{1, -1}, Right: []float64{0.5, 0}}, nil
	case 2:
		return audio.Block{Left: []float64{-0.25}, Right: []float64{2}}, nil
	}
	return audio.Block{}, io.EOF
}

// Raw sound is interleaved, 32-bit floats of IEEE 754, little endian: 1.0 is
// 3f800000, 0.5 3f000000, -0.25 be800000, 2.0 40000000.
func TestSoundIsPlayedAsInterleavedFloats(t *testing.T) {
	var out bytes.Buffer
	if err := playTo(&out).play(context.Background(), &twoBlocks{}); !errors.Is(err, io.EOF) {
		t.Fatal(err)
	}
	want := "0000803f" + "0000003f" + "000080bf" + "00000000" + "000080be" + "00000040"
	if got := hex.EncodeToString(out.Bytes()); got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}

// gone is a sink whose reader went away.
type gone struct{}

func (gone) Write([]byte) (int, error) { return 0, io.ErrClosedPipe }

func TestAPlayerThatEndsIsTold(t *testing.T) {
	if err := playTo(gone{}).play(context.Background(), &twoBlocks{}); !errors.Is(err, io.ErrClosedPipe) {
		t.Errorf("got %v, want the error of the sink", err)
	}
}
