//go:build outside

package capture

import (
	"context"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"headtrue/dsp/audio"
	"headtrue/dsp/capture/soundservertest"
)

// The counter is exact in float32: left counts up from 1/2^22, right is its negative.
const counterScale = 1 << 22

func counterFile(t *testing.T, seconds int) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "counter.wav")
	w, err := CreateWAV(path, soundservertest.Rate, true)
	if err != nil {
		t.Fatal(err)
	}
	b := audio.Block{Left: make([]float64, soundservertest.Rate), Right: make([]float64, soundservertest.Rate)}
	n := 0
	for range seconds {
		for i := range b.Left {
			n++
			b.Left[i], b.Right[i] = float64(n%counterScale)/counterScale, -float64(n%counterScale)/counterScale
		}
		if err := w.Write(b); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return path
}

// liveInputs are the inputs under test; the one through PortAudio is added if it is built
// in.
var liveInputs = []string{"pulse:" + soundservertest.Source}

// stall exceeds all buffers of the server and the ring.
const stall = 16 * time.Second

// eachLive runs a test on each input, each in a separate process: PortAudio keeps its
// device list for the whole process, and the race detector's pointer checks stop a second
// PortAudio stream in one process.
func eachLive(t *testing.T, test func(t *testing.T, name string)) {
	for _, name := range liveInputs {
		t.Run(strings.NewReplacer(":", "-", "/", "-").Replace(name), func(t *testing.T) {
			const own = "HEADTRUE_TEST_OWN_PROCESS"
			if os.Getenv(own) == t.Name() {
				test(t, name)
				return
			}
			t.Parallel()
			child := exec.Command(os.Args[0], "-test.v", "-test.run=^"+strings.ReplaceAll(t.Name(), "/", "$/^")+"$")
			child.Env = append(os.Environ(), own+"="+t.Name())
			out, err := child.CombinedOutput()
			if err != nil || !strings.Contains(string(out), "--- PASS: "+t.Name()) {
				t.Fatalf("%v\n%s", err, out)
			}
			t.Log(string(out))
		})
	}
}

func openLive(t *testing.T, ctx context.Context, name string) (*soundservertest.Server, *live) {
	t.Helper()
	server := soundservertest.Start(t)
	server.Setenv(t)
	s, err := Open(ctx, name, soundservertest.Rate)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = s.Close() })
	return server, s.(*live)
}

// counter follows the counted samples. Silence of a late player may be between them.
type counter struct {
	last    int64 // newest count
	counted int
	at      int64 // sample number of the newest count
}

// settled is the greatest jump of the counter: the null sink rewinds while a player
// starts, and its monitor has already captured the rewound part.
const settled = soundservertest.Rate / 2

// follow fails unless each sample is silence or the last one plus one.
func (c *counter) follow(t *testing.T, b audio.Block) {
	t.Helper()
	for i, left := range b.Left {
		if b.Right[i] != -left {
			t.Fatalf("frame %d: left %v, right %v: not each other's negative", b.Start+int64(i), left, b.Right[i])
		}
		if left == 0 {
			continue
		}
		n := int64(left * counterScale)
		if n > settled && n != c.last+1 {
			t.Fatalf("frame %d: the counter jumps from %d to %d", b.Start+int64(i), c.last, n)
		}
		c.last, c.at = n, b.Start+int64(i)
		c.counted++
	}
}

func TestLiveCounterArrivesBitExact(t *testing.T) {
	eachLive(t, func(t *testing.T, name string) {
		ctx, cancel := context.WithTimeout(context.Background(), 60*time.Second)
		defer cancel()
		server, s := openLive(t, ctx, name)
		server.Play(t, counterFile(t, 8))
		var c counter
		for c.counted < 6*soundservertest.Rate {
			b, err := s.Next(ctx)
			if err != nil {
				t.Fatalf("after %d counted frames: %v", c.counted, err)
			}
			if b.Lost != 0 {
				t.Fatalf("block at %d: %d frames lost", b.Start, b.Lost)
			}
			c.follow(t, b)
		}
	})
}

// A reader that stops for longer than all buffers loses sound. The loss must be reported,
// in about the right number, and old blocks in between must report that more is waiting.
func TestLiveStallIsCountedAsLost(t *testing.T) {
	eachLive(t, func(t *testing.T, name string) {
		ctx, cancel := context.WithTimeout(context.Background(), 120*time.Second)
		defer cancel()
		server, s := openLive(t, ctx, name)
		server.Play(t, counterFile(t, 40))
		var before counter
		for before.counted < soundservertest.Rate {
			b, err := s.Next(ctx)
			if err != nil {
				t.Fatal(err)
			}
			before.follow(t, b)
		}
		began := time.Now()
		s.mu.Lock() // the pushing thread waits here
		<-time.After(stall)
		s.mu.Unlock()
		var lost int64
		var after counter
		var b audio.Block
		// The rest of a portion may wait behind every block if the server's portions are
		// whole blocks.
		stale := func() bool { return b.Waiting > blockFrames }
		for after.counted < soundservertest.Rate || stale() {
			waiting := b.Waiting
			var err error
			if b, err = s.Next(ctx); err != nil {
				t.Fatalf("%d counted, %d lost, %d waiting, clock %+v: %v", after.counted, lost, waiting, s.clock, err)
			}
			lost += b.Lost
			wrong := 0.0
			for i, left := range b.Left {
				if left != 0 {
					after.counted++
					at, count := b.Start+int64(i), int64(left*counterScale)
					wrong = float64((at-before.at)-(count-before.last)) / soundservertest.Rate
				}
			}
			// Only in this direction: a late player, on a busy machine, delays the sound
			// against the sample number.
			if wrong < -0.15 && !stale() {
				t.Fatalf("block at %d: the sound is %.2f s ahead of the sample number and nothing is told", b.Start, -wrong)
			}
			if lost > int64(time.Since(began).Seconds()*soundservertest.Rate) {
				t.Fatalf("block at %d: %d frames told as lost, more than have gone by", b.Start, lost)
			}
			if lost > 0 && !stale() {
				t.Logf("%d frames told as lost, the count is then %.1f ms off", lost, 1000*wrong)
				return
			}
		}
		t.Fatalf("after a stall of %v nothing was told as lost", stall)
	})
}

func TestLiveServerKilledStops(t *testing.T) {
	eachLive(t, func(t *testing.T, name string) {
		ctx, cancel := context.WithTimeout(context.Background(), 60*time.Second)
		defer cancel()
		server, s := openLive(t, ctx, name)
		if _, err := s.Next(ctx); err != nil {
			t.Fatal(err)
		}
		server.Kill()
		for {
			_, err := s.Next(ctx)
			if errors.Is(err, audio.ErrStopped) {
				break
			}
			if err != nil {
				t.Fatalf("%v, want %v", err, audio.ErrStopped)
			}
		}
		if _, err := s.Next(ctx); !errors.Is(err, audio.ErrStopped) {
			t.Errorf("asked again: %v", err)
		}
	})
}

func TestListNamesTheInput(t *testing.T) {
	soundservertest.Start(t).Setenv(t)
	inputs, err := List(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range liveInputs {
		found := false
		for _, in := range inputs {
			found = found || in.Name == want && in.API != "" && in.Channels >= 2 && in.Rate > 0
		}
		if !found {
			t.Errorf("%q is not among %+v", want, inputs)
		}
	}
}
