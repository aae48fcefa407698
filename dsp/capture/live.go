package capture

import (
	"context"
	"io"
	"sync"
	"time"

	"headtrue/dsp/audio"
	"headtrue/jig/fault"
)

const (
	ringSeconds   = 10              // most unread sound for a caller that does not read
	firstPatience = 6 * time.Second // a sound server's first buffer can come late
	livePatience  = 2 * time.Second // later a stream without blocks for this long has stopped
	secondLook    = 500 * time.Millisecond
)

// live is a stream into which another thread pushes, and the ring between them. It is the
// Source; the part for the sound server sets release.
type live struct {
	rate    int
	release func() error // stops the pushing; called once
	now     func() time.Duration

	mu       sync.Mutex
	ring     []float32 // interleaved
	read     int64     // frames taken out
	written  int64     // frames put in
	gaps     []gap
	arrivals []arrival
	clock    lossClock
	stopped  error // why the stream has ended
	closed   bool
	err      error // of release
	arrived  chan struct{}

	next        int64 // sample number
	left, right []float64
}

// gap is a loss just before the frame with that number in the ring.
type gap struct{ at, lost int64 }

// usualArrivals is the most that wait for a caller that reads on time.
const usualArrivals = 1024

// arrival is when the frames up to a number in the ring came in.
type arrival struct {
	end int64
	at  time.Time
}

func newLive(rate int) *live {
	begun := time.Now()
	return &live{
		rate: rate, now: func() time.Duration { return time.Since(begun) },
		ring:     make([]float32, 2*rate*ringSeconds),
		clock:    lossClock{rate: float64(rate)},
		arrivals: make([]arrival, 0, usualArrivals),
		arrived:  make(chan struct{}, 1),
		left:     make([]float64, blockFrames), right: make([]float64, blockFrames),
	}
}

// push takes interleaved samples as they arrive. overflow is the sound system's report
// that samples were lost before these.
func (l *live) push(samples []float32, overflow bool) {
	defer fault.Recovered(l.stop) // the thread is the sound system's own
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.closed || l.stopped != nil {
		return
	}
	frames := len(samples) / 2
	lost := l.clock.arrive(l.now(), frames)
	if overflow {
		lost = max(lost, 1) // the number is unknown; the clock finds it
	}
	l.lose(lost)
	room := len(l.ring)/2 - int(l.written-l.read)
	kept := min(frames, room)
	at := int(l.written%int64(len(l.ring)/2)) * 2
	n := copy(l.ring[at:], samples[:2*kept])
	copy(l.ring, samples[n:2*kept])
	l.written += int64(kept)
	if kept > 0 {
		l.arrivals = append(l.arrivals, arrival{l.written, time.Now()})
	}
	l.lose(int64(frames - kept))
	l.wake()
}

func (l *live) lose(frames int64) {
	if frames <= 0 {
		return
	}
	if n := len(l.gaps); n > 0 && l.gaps[n-1].at == l.written {
		l.gaps[n-1].lost += frames
		return
	}
	l.gaps = append(l.gaps, gap{l.written, frames})
}

// stop marks the stream as ended.
func (l *live) stop(why error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.stopped == nil {
		l.stopped = why
	}
	l.wake()
}

func (l *live) wake() {
	select {
	case l.arrived <- struct{}{}:
	default:
	}
}

func (l *live) Rate() int { return l.rate }

func (l *live) Next(ctx context.Context) (audio.Block, error) {
	patience := livePatience
	if l.next == 0 {
		patience = firstPatience
	}
	watchdog := time.NewTimer(patience)
	defer watchdog.Stop()
	again := false
	for {
		if b, ready, err := l.take(); ready || err != nil {
			return b, err
		}
		select {
		case <-l.arrived:
			again = false
			watchdog.Reset(livePatience)
		case <-ctx.Done():
			return audio.Block{}, ctx.Err()
		case <-watchdog.C:
			// After this process was itself suspended, its timer ends before the waiting
			// sound is seen: look once more.
			if again {
				l.stop(audio.ErrStopped)
			}
			again = true
			watchdog.Reset(secondLook)
		}
	}
}

// take returns a block if one is ready: a full one, a short one up to a gap, or the rest
// of a stream that has stopped.
func (l *live) take() (b audio.Block, ready bool, err error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.closed {
		return b, false, io.ErrClosedPipe
	}
	n, whole := l.written-l.read, false
	first := 0 // the first gap after the frames to take
	if len(l.gaps) > 0 && l.gaps[0].at == l.read {
		b.Lost, first = l.gaps[0].lost, 1
	}
	if len(l.gaps) > first && l.gaps[first].at-l.read <= blockFrames {
		n, whole = l.gaps[first].at-l.read, true
	}
	n = min(n, blockFrames)
	if n == 0 || (n < blockFrames && !whole && l.stopped == nil) {
		return audio.Block{}, false, l.stopped
	}
	l.gaps = l.gaps[:copy(l.gaps, l.gaps[first:])]
	for i := range int(n) {
		at := int((l.read+int64(i))%int64(len(l.ring)/2)) * 2
		l.left[i], l.right[i] = finite(float64(l.ring[at]), &b.NotNumbers), finite(float64(l.ring[at+1]), &b.NotNumbers)
	}
	l.read += n
	past := 0
	for l.arrivals[past].end < l.read {
		past++
	}
	l.arrivals = l.arrivals[:copy(l.arrivals, l.arrivals[past:])]
	b.Arrived = l.arrivals[0].at
	b.Start = l.next + b.Lost
	b.Left, b.Right = l.left[:n], l.right[:n]
	b.Waiting = int(l.written-l.read) + l.clock.behind()
	for _, g := range l.gaps {
		b.Waiting += int(g.lost)
	}
	l.next = b.End()
	return b, true, nil
}

// Close stops the stream. It may be called more than once, and while another goroutine
// waits in Next, which then returns.
func (l *live) Close() error {
	l.mu.Lock()
	if l.closed {
		defer l.mu.Unlock()
		return l.err
	}
	l.closed = true
	l.wake()
	release := l.release
	l.mu.Unlock()
	err := release() // may wait for the thread that pushes
	l.mu.Lock()
	defer l.mu.Unlock()
	l.err = err
	return err
}
