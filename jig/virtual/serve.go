package virtual

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"sync"

	protocol "headtrue/firmware-protocol"
	"headtrue/jig/fault"
)

// queued is how many frames wait for a slow host before more are dropped: a real board
// does not wait for its host either.
const queued = 64

// Board is the device at the far end of a line: a Jig, or firmware in a simulator.
type Board interface {
	// Opened is called when a host opens the port, which resets many boards.
	Opened()
	// Serve answers the link until ctx ends or either side hangs up, and closes rw.
	Serve(ctx context.Context, rw io.ReadWriteCloser) error
}

// line is one connection of the jig.
type line struct {
	out  chan []byte
	cut  func() // hangs up; does not block and takes no lock of the jig
	gone bool   // cut by a fault: later bytes are ignored
}

// Serve answers the link on rw until ctx ends, the line is closed from the other side, or
// a fault cuts it. It closes rw. It returns nil unless reading failed unexpectedly. Its
// writer goroutine ends with it.
func (v *Jig) Serve(ctx context.Context, rw io.ReadWriteCloser) error {
	ctx, cancel := context.WithCancel(ctx)
	l := &line{out: make(chan []byte, queued), cut: cancel}
	v.mu.Lock()
	v.lines[l] = struct{}{}
	v.mu.Unlock()

	var ends sync.WaitGroup
	var broke error
	ends.Go(func() { <-ctx.Done(); _ = rw.Close() })
	ends.Go(func() {
		defer fault.Recovered(func(err error) { broke = err; cancel() })
		l.write(ctx, rw)
	})
	err := v.read(l, rw)
	v.mu.Lock()
	delete(v.lines, l)
	v.mu.Unlock()
	cut := ctx.Err() != nil
	cancel()
	ends.Wait()
	if broke != nil {
		return fmt.Errorf("virtual jig: %w", broke)
	}
	if cut || errors.Is(err, io.EOF) || errors.Is(err, io.ErrClosedPipe) || errors.Is(err, os.ErrClosed) {
		return nil
	}
	return fmt.Errorf("virtual jig: reading the line: %w", err)
}

func (v *Jig) read(l *line, r io.Reader) (err error) {
	defer fault.Recovered(func(broke error) { err = broke })
	var frames protocol.Splitter
	buf := make([]byte, 256)
	for {
		n, err := r.Read(buf)
		v.take(l, &frames, buf[:n])
		if err != nil {
			return err
		}
	}
}

// take carries out the requests whose frames are now complete.
func (v *Jig) take(l *line, frames *protocol.Splitter, came []byte) {
	v.mu.Lock()
	defer v.mu.Unlock()
	frames.Feed(v.late.toJig.spoil(came), func(f protocol.Frame, err error) {
		if err == nil && !l.gone { // a spoilt frame is dropped, not answered
			v.answer(l, f)
		}
	})
	v.taken += int64(len(came))
}

// send queues a frame. The caller holds the lock, so that frames keep their order.
func (v *Jig) send(l *line, wire []byte) {
	wire = v.late.fromJig.spoil(wire)
	if len(wire) == 0 {
		return
	}
	select {
	case l.out <- wire:
		v.sent += int64(len(wire))
	default:
	}
}

func (l *line) write(ctx context.Context, w io.Writer) {
	for {
		select {
		case <-ctx.Done():
			return
		case wire := <-l.out:
			if _, err := w.Write(wire); err != nil {
				return
			}
		}
	}
}

// event reports to all hosts that a motion has ended.
func (v *Jig) event(kind protocol.EventKind) {
	if v.hung {
		return
	}
	v.buildWaiting()
	f := protocol.Frame{Type: protocol.TypeEvent, Seq: v.eventSeq}
	f.Body = protocol.Event{Kind: kind, Status: v.status(), FirstStepMicros: v.micros(v.firstStep)}.Append(nil)
	v.eventSeq++
	for l := range v.lines {
		if l.gone {
			continue
		}
		v.tell(l, v.garble(f.Append(nil)))
	}
}

// Opened resets the jig, as its board does when a host opens the port.
func (v *Jig) Opened() {
	if !v.opt.NoResetOnOpen {
		v.Reset(false)
	}
}

// Pipe opens a connection to the jig in memory, for tests and for machines without
// pseudo-terminals. Opening it resets the jig, as opening its port does. The connection
// ends when it is closed or ctx ends.
func Pipe(ctx context.Context, v *Jig) io.ReadWriteCloser {
	host, board := net.Pipe()
	v.Opened()
	go func() { _ = v.Serve(ctx, board) }() // ends with the pipe or ctx
	return host
}
