package capture

import (
	"context"
	"errors"
	"io"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"headtrue/dsp/audio"
)

// arrivals feeds a loss clock fragments of 20 ms that arrive up to jitter late, from a
// card that runs fast or slow; it returns the reported loss.
func arrivals(c *lossClock, r *rand.Rand, from, to time.Duration, jitter time.Duration, ppm float64) (lost int64) {
	const fragment = 20 * time.Millisecond
	for at := from; at < to; at += fragment {
		due := time.Duration(float64(at) * (1 - ppm*1e-6))
		lost += c.arrive(due+time.Duration(r.Float64()*float64(jitter)), 960)
	}
	return lost
}

func TestLossClockHearsNothingWhereNothingIsLost(t *testing.T) {
	for _, ppm := range []float64{0, 300, -300} {
		c := &lossClock{rate: 48000}
		lost := arrivals(c, rand.New(rand.NewPCG(1, 2)), 0, 10*time.Minute, 30*time.Millisecond, ppm)
		if lost != 0 || c.behind() != 0 {
			t.Errorf("%v ppm: %d lost, %d behind", ppm, lost, c.behind())
		}
	}
}

func TestLossClockCountsAHole(t *testing.T) {
	for _, hole := range []time.Duration{100 * time.Millisecond, time.Second, 29 * time.Second} {
		r := rand.New(rand.NewPCG(3, 4))
		c := &lossClock{rate: 48000}
		lost := arrivals(c, r, 0, 5*time.Second, 5*time.Millisecond, 50)
		start := 5*time.Second + hole
		lost += arrivals(c, r, start, start+300*time.Millisecond, 5*time.Millisecond, 50)
		if c.behind() == 0 {
			t.Errorf("hole of %v: nothing behind just after it", hole)
		}
		lost += arrivals(c, r, start+300*time.Millisecond, start+5*time.Second, 5*time.Millisecond, 50)
		if d := float64(lost) - hole.Seconds()*48000; math.Abs(d) > 480 {
			t.Errorf("hole of %v: %d lost, off by %.0f", hole, lost, d)
		}
		if c.behind() != 0 {
			t.Errorf("hole of %v: still %d behind", hole, c.behind())
		}
	}
}

// Delayed sound comes in a burst and is not lost, but behind must report it meanwhile.
func TestLossClockWaitsForABacklog(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	c := &lossClock{rate: 48000}
	lost := arrivals(c, r, 0, 5*time.Second, 5*time.Millisecond, 0)
	// From 5 to 8 s nothing comes, then all comes at three times the speed.
	at := 8 * time.Second
	for sent := 5 * time.Second; sent < at; sent += 20 * time.Millisecond {
		lost += c.arrive(at, 960)
		if at-sent > 100*time.Millisecond && c.behind() == 0 {
			t.Fatalf("%v late and nothing behind", at-sent)
		}
		at += 20 * time.Millisecond / 3
	}
	lost += arrivals(c, r, at, at+5*time.Second, 5*time.Millisecond, 0)
	if lost != 0 || c.behind() != 0 {
		t.Errorf("%d lost, %d behind", lost, c.behind())
	}
}

// handFed is a live stream whose clock and thread are those of the test.
func handFed() (*live, *time.Duration) {
	l, now := newLive(48000), new(time.Duration)
	l.now = func() time.Duration { return *now }
	l.release = func() error { return nil }
	return l, now
}

// ramp returns frames of a counter from n.
func ramp(n, frames int) []float32 {
	x := make([]float32, 0, 2*frames)
	for i := range frames {
		x = append(x, float32(n+i), -float32(n+i))
	}
	return x
}

func TestLiveBlocksKeepOrderAcrossTheRing(t *testing.T) {
	l, now := handFed()
	pushed, want := 0, int64(0)
	for range 3 * 48000 * ringSeconds / 4096 {
		for pushed < int(want)+4096 {
			l.push(ramp(pushed, 700), false)
			pushed += 700
			*now = time.Duration(pushed) * time.Second / 48000
		}
		b, err := l.Next(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		if b.Start != want || b.Frames() != blockFrames || b.Waiting != pushed-int(b.End()) {
			t.Fatalf("start %d of %d frames with %d waiting; want %d, %d, %d", b.Start, b.Frames(), b.Waiting, want, blockFrames, pushed-int(b.End()))
		}
		for i := range b.Left {
			if b.Left[i] != float64(float32(want)+float32(i)) || b.Right[i] != -b.Left[i] {
				t.Fatalf("frame %d holds %v, %v", want+int64(i), b.Left[i], b.Right[i])
			}
		}
		want = b.End()
	}
}

func TestLiveCountsWhatTheRingCannotHold(t *testing.T) {
	l, now := handFed()
	const all = 48000*ringSeconds + 5000
	for n := 0; n < all; n += 1000 {
		*now = time.Duration(n) * time.Second / 48000
		l.push(ramp(n, 1000), false)
	}
	var lost, last int64
	for range 48000 * ringSeconds / blockFrames {
		b, err := l.Next(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		lost += b.Lost
		last = b.End()
	}
	*now = all * time.Second / 48000
	l.push(ramp(all, 2048), false)
	for last < all+1024 {
		b, err := l.Next(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		lost += b.Lost
		last = b.End()
		if b.Lost > 0 && int64(b.Left[0]) != b.Start {
			t.Errorf("after the loss frame %d holds %v", b.Start, b.Left[0])
		}
	}
	if lost != 5000 {
		t.Errorf("%d lost, want 5000", lost)
	}
}

func TestLiveOverflowFlagIsNeverSilent(t *testing.T) {
	l, _ := handFed()
	l.push(ramp(0, 100), false)
	l.push(ramp(100, 2000), true)
	b, err := l.Next(context.Background())
	if err != nil || b.Frames() != 100 || b.Lost != 0 {
		t.Fatalf("%d frames, %d lost, %v; want the 100 before the loss", b.Frames(), b.Lost, err)
	}
	if b.Waiting <= 2000 {
		t.Errorf("%d waiting: the 2000 behind the loss, but not the loss", b.Waiting)
	}
	if b, err = l.Next(context.Background()); err != nil || b.Lost < 1 || b.Start != 100+b.Lost {
		t.Errorf("start %d, %d lost, %v", b.Start, b.Lost, err)
	}
}

func TestLiveEndsWithWhatIsLeftThenStopped(t *testing.T) {
	l, _ := handFed()
	l.push(ramp(0, 1500), false)
	l.stop(audio.ErrStopped)
	for _, want := range []int{1024, 476} {
		if b, err := l.Next(context.Background()); err != nil || b.Frames() != want {
			t.Fatalf("%d frames, %v; want %d", b.Frames(), err, want)
		}
	}
	for range 2 {
		if _, err := l.Next(context.Background()); !errors.Is(err, audio.ErrStopped) {
			t.Errorf("error %v, want %v", err, audio.ErrStopped)
		}
	}
}

func TestLiveCloseEndsAWaitingNext(t *testing.T) {
	l, _ := handFed()
	ended := make(chan error)
	go func() {
		_, err := l.Next(context.Background())
		ended <- err
	}()
	if err := errors.Join(l.Close(), l.Close()); err != nil {
		t.Error(err)
	}
	if err := <-ended; !errors.Is(err, io.ErrClosedPipe) {
		t.Errorf("error %v, want %v", err, io.ErrClosedPipe)
	}
	l.push(ramp(0, 10), false) // a late thread does no harm
}

func TestLivePushAllocatesNothing(t *testing.T) {
	l, now := handFed()
	x := ramp(0, blockFrames)
	allocs := testing.AllocsPerRun(100, func() {
		*now += blockFrames * time.Second / 48000
		l.push(x, false)
		if _, ready, err := l.take(); !ready || err != nil {
			t.Fatal(err)
		}
	})
	if allocs != 0 {
		t.Errorf("%v allocations per block", allocs)
	}
}
