package simulator

import (
	"context"
	"encoding/hex"
	"errors"
	"io"
	"os"
	"sync"
	"time"

	protocol "headtrue/firmware-protocol"
)

// Start-up of a board after its port was opened, and the longest time for the answer to a
// request.
const (
	startUp = 150 * time.Millisecond
	patient = 80 * time.Millisecond
	awaited = time.Millisecond
)

// line is the link to a board. It does not wait in real time: a write lets as much
// simulated time pass as the board needs to answer.
type line struct {
	board   *Board
	asked   protocol.Splitter // bytes from the host
	told    protocol.Splitter // bytes from the jig
	waiting map[key]bool      // requests without a reply yet

	mu     sync.Mutex // guards the fields below
	change *sync.Cond
	out    []byte
	closed bool
}

// key identifies a request and its reply.
type key struct {
	kind protocol.Type
	seq  uint8
}

// Open opens the line. Unless calm, it restarts the board, as opening its port does.
func (b *Board) Open(calm bool) (io.ReadWriteCloser, error) {
	l := &line{board: b, waiting: map[key]bool{}}
	l.change = sync.NewCond(&l.mu)
	b.mu.Lock()
	b.line = l
	b.mu.Unlock()
	if calm {
		return l, nil
	}
	return l, b.Restart()
}

// hear takes bytes from the jig; the caller holds the board's lock.
func (l *line) hear(sent []byte) {
	l.told.Feed(sent, func(f protocol.Frame, err error) {
		if err == nil && f.Type&protocol.ReplyBit != 0 {
			delete(l.waiting, key{f.Type &^ protocol.ReplyBit, f.Seq})
		}
	})
	l.board.sent += int64(len(sent))
	l.mu.Lock()
	defer l.mu.Unlock()
	l.out = append(l.out, sent...)
	l.change.Broadcast()
}

// Write sends bytes and lets time pass until they have arrived and their requests are
// answered, or for 80 ms if they are not.
func (l *line) Write(p []byte) (int, error) {
	b := l.board
	b.mu.Lock()
	defer b.mu.Unlock()
	if l.isClosed() {
		return 0, io.ErrClosedPipe
	}
	l.asked.Feed(p, func(f protocol.Frame, err error) {
		if err == nil && f.Type > 0 && f.Type < protocol.TypeEvent {
			l.waiting[key{f.Type, f.Seq}] = true
		}
	})
	if err := b.order("send %s", hex.EncodeToString(p)); err != nil {
		return 0, err
	}
	const byteTime = 110 * time.Microsecond // on the line, with a margin
	arrived := b.now.Cycle + cycles(time.Duration(len(p))*byteTime)
	for until := arrived + cycles(patient); b.now.Cycle < arrived || len(l.waiting) > 0 && b.now.Cycle < until; {
		if err := b.order("await %d", cycles(awaited)); err != nil {
			return 0, err
		}
	}
	clear(l.waiting)
	b.taken += int64(len(p))
	return len(p), nil
}

// Taken returns the bytes that the board has taken from its lines.
func (b *Board) Taken() int64 {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.taken
}

// Sent returns the bytes that the board has sent on its lines.
func (b *Board) Sent() int64 {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.sent
}

// Read returns bytes from the jig.
func (l *line) Read(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	for len(l.out) == 0 && !l.closed {
		l.change.Wait()
	}
	if l.closed {
		return 0, io.EOF
	}
	n := copy(p, l.out)
	l.out = l.out[n:]
	return n, nil
}

func (l *line) isClosed() bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.closed
}

// Restart restarts the board, as opening its port does.
func (b *Board) Restart() error {
	b.mu.Lock()
	defer b.mu.Unlock()
	if err := b.order("restart external"); err != nil {
		return err
	}
	return b.order("run %d", cycles(startUp))
}

// Serve passes everything between rw and a line of the board until ctx ends or rw is
// closed from the other side; it closes rw.
func (b *Board) Serve(ctx context.Context, rw io.ReadWriteCloser) error {
	l, err := b.Open(true)
	if err != nil {
		return errors.Join(err, rw.Close())
	}
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	var ends sync.WaitGroup
	ends.Go(func() { <-ctx.Done(); _ = rw.Close(); _ = l.Close() })
	ends.Go(func() { _, _ = io.Copy(rw, l); cancel() })
	_, err = io.Copy(l, struct{ io.Reader }{rw}) // by its Read, not by that of a file inside
	hungUp := ctx.Err() != nil
	cancel()
	ends.Wait()
	if hungUp || errors.Is(err, os.ErrClosed) || errors.Is(err, io.ErrClosedPipe) {
		return nil
	}
	return err
}

// Close hangs up.
func (l *line) Close() error {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.closed {
		return errors.New("simulator: line is closed already")
	}
	l.closed = true
	l.change.Broadcast()
	return nil
}
