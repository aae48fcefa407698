package virtual

import (
	"context"
	"io"
	"math"
	"runtime"
	"sync"
	"sync/atomic"
	"time"
)

// Timed is a board that counts the bytes on its line, as Jig does.
type Timed interface {
	// DueIn returns the frames until the next delayed reply is sent, if one waits.
	DueIn() (frames int64, waiting bool)
	// Taken and Sent count bytes since the board was made: bytes from hosts that it has
	// handled, and bytes that it has sent to hosts.
	Taken() int64
	Sent() int64
}

// Lockstep is simulated time for a host and its jig, counted in frames of sound. Time
// passes only while the host waits, in Wait or in Advance, and never while bytes are in
// transit. So a run repeats to the byte, however busy the machine is, and runs as fast as
// the machine can.
//
// It is a jig.Clock. One goroutine at a time may let time pass. If several do, they take
// turns, and the run no longer repeats.
type Lockstep struct {
	rate    int64
	board   Timed
	pass    func(frames int) // advances the board and everything around it
	frame   atomic.Int64
	mu      sync.Mutex // guards the fields below and the passage of time
	repeats []*repeat
	quiet   func() bool // reports whether the host has written everything
	line    *counted
}

type repeat struct {
	period, next int64
	poll         func()
}

// NewLockstep makes the time of a board; pass advances the board by a number of frames.
func NewLockstep(rate int, board Timed, pass func(frames int)) *Lockstep {
	return &Lockstep{rate: int64(rate), board: board, pass: pass, quiet: func() bool { return true }}
}

// Instant returns the simulated time of a frame, at a rate per second.
func Instant(frame, rate int64) time.Time {
	return time.Unix(0, 0).Add(time.Duration(frame * int64(time.Second) / rate))
}

// Now implements jig.Clock.
func (l *Lockstep) Now() time.Time { return Instant(l.frame.Load(), l.rate) }

// Attach implements jig.Clock.
func (l *Lockstep) Attach(quiet func() bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.quiet = quiet
}

// Every implements jig.Clock. The goroutine that lets time pass calls poll.
func (l *Lockstep) Every(period time.Duration, poll func()) (stop func()) {
	l.mu.Lock()
	defer l.mu.Unlock()
	frames := max(1, int64(period)*l.rate/int64(time.Second))
	r := &repeat{frames, l.frame.Load() + frames, poll}
	l.repeats = append(l.repeats, r)
	return func() {
		l.mu.Lock()
		defer l.mu.Unlock()
		for i, other := range l.repeats {
			if other == r {
				l.repeats = append(l.repeats[:i], l.repeats[i+1:]...)
				return
			}
		}
	}
}

// Wait implements jig.Clock.
func (l *Lockstep) Wait(ctx context.Context, ready <-chan struct{}, until time.Time) {
	for {
		l.mu.Lock()
		l.settle()
		select {
		case <-ready:
			l.mu.Unlock()
			return
		default:
		}
		left := int64(math.Ceil(until.Sub(l.Now()).Seconds() * float64(l.rate)))
		if ctx.Err() != nil || left <= 0 {
			l.mu.Unlock()
			return
		}
		l.step(left)
		l.mu.Unlock()
	}
}

// Advance lets a number of frames pass.
func (l *Lockstep) Advance(frames int) {
	for end := l.frame.Load() + int64(frames); ; {
		l.mu.Lock()
		left := end - l.frame.Load()
		if left <= 0 {
			l.mu.Unlock()
			return
		}
		l.step(left)
		l.mu.Unlock()
	}
}

// step lets time pass up to the next event, by at most this number of frames.
func (l *Lockstep) step(most int64) {
	l.settle()
	now := l.frame.Load()
	frames := most
	for _, r := range l.repeats {
		frames = min(frames, r.next-now)
	}
	if due, waiting := l.board.DueIn(); waiting {
		frames = min(frames, due)
	}
	// Pieces let the host hear an event within a millisecond. The frame count moves
	// first, so the event is heard at the end of its piece.
	for end := now + max(1, frames); now < end; {
		piece := min(end-now, max(1, l.rate/1000))
		now = l.frame.Add(piece)
		l.pass(int(piece))
		l.settle()
	}
	for _, r := range append([]*repeat(nil), l.repeats...) {
		if r.next <= now {
			r.next += r.period
			r.poll()
			l.settle()
		}
	}
}

// Line counts the bytes at the host's end of a line.
func (l *Lockstep) Line(host io.ReadWriteCloser) io.ReadWriteCloser {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.line = &counted{ReadWriteCloser: host, taken: l.board.Taken(), sent: l.board.Sent()}
	return l.line
}

// settlePatience is the longest time that bytes may be in transit, in real time. After
// that they count as lost, for example because a line was cut.
const settlePatience = 5 * time.Second

// settle waits, in real time, until no bytes are in transit on the line.
func (l *Lockstep) settle() {
	if l.still() {
		return
	}
	for began, tries := time.Now(), 0; !l.still(); tries++ {
		switch {
		case tries < 100:
			runtime.Gosched()
		default:
			time.Sleep(20 * time.Microsecond)
		}
		if time.Since(began) > settlePatience {
			l.line.recount(l.board)
			return
		}
	}
}

func (l *Lockstep) still() bool {
	c := l.line
	if c == nil || c.over.Load() {
		return true
	}
	return l.quiet() && l.board.Taken() >= c.taken+c.written.Load() && c.read.Load() >= l.board.Sent()-c.sent && l.quiet()
}

// counted counts the bytes at the host's end of a line. Bytes count as read at the host's
// next read, since the host has then handled them.
type counted struct {
	io.ReadWriteCloser
	taken, sent   int64 // the board's counts when the line was opened
	written, read atomic.Int64
	unread        int64 // bytes of the last read; only the reader uses it
	over          atomic.Bool
}

func (c *counted) Read(p []byte) (int, error) {
	c.read.Add(c.unread)
	n, err := c.ReadWriteCloser.Read(p)
	c.unread = int64(n)
	if err != nil {
		c.over.Store(true)
	}
	return n, err
}

func (c *counted) Write(p []byte) (int, error) {
	c.written.Add(int64(len(p)))
	n, err := c.ReadWriteCloser.Write(p)
	if err != nil {
		c.over.Store(true)
	}
	return n, err
}

func (c *counted) Close() error {
	c.over.Store(true)
	return c.ReadWriteCloser.Close()
}

// recount counts bytes in transit as lost.
func (c *counted) recount(board Timed) {
	c.written.Store(board.Taken() - c.taken)
	c.read.Store(board.Sent() - c.sent)
}

// DueIn implements Timed.
func (v *Jig) DueIn() (frames int64, waiting bool) {
	due, waiting := v.Due()
	v.mu.Lock()
	defer v.mu.Unlock()
	return due - v.frame, waiting
}

var _ Timed = (*Jig)(nil)
