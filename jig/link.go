package jig

import (
	"context"
	"errors"
	"fmt"
	"io"
	"sync"
	"time"

	protocol "headtrue/firmware-protocol"
)

// errHalted says that Halt came before a motion was under way.
var errHalted = errors.New("halted")

// link is frames over a line: a reader, a writer, replies matched to requests.
type link struct {
	rwc io.ReadWriteCloser
	// heard sees the status of every frame, and whether it is a reply that is
	// waited for; its error ends all but STOP.
	heard  func(s protocol.Status, asked bool) error
	events func(protocol.Event)

	turn chan struct{} // holds one token: the right to have a request outstanding

	mu      sync.Mutex
	seq     uint8
	waiting map[uint16]chan answer // by type and sequence
	stops   map[uint8][]byte       // to be written first, by sequence
	next    []byte                 // the outstanding request
	under   *order                 // where next is a motion: what it was ordered under
	reset   error                  // why no request but STOP is served any more
	failed  error                  // why the line is over
	halts   uint64                 // how often Halt was called
	halted  chan struct{}          // closed at the next Halt

	wake  chan struct{} // tells the writer
	ended chan struct{} // closed once failed is set
	once  sync.Once
	tasks sync.WaitGroup
}

type answer struct {
	reply protocol.Reply
	body  []byte
}

func newLink(rwc io.ReadWriteCloser, heard func(protocol.Status, bool) error, events func(protocol.Event)) *link {
	l := &link{
		rwc: rwc, heard: heard, events: events,
		turn: make(chan struct{}, 1), waiting: map[uint16]chan answer{},
		stops: map[uint8][]byte{}, halted: make(chan struct{}), wake: make(chan struct{}, 1), ended: make(chan struct{}),
	}
	l.turn <- struct{}{}
	l.tasks.Go(l.read)
	l.tasks.Go(l.write)
	return l
}

// read is the reader goroutine; it ends with the line.
func (l *link) read() {
	var frames protocol.Splitter
	buf := make([]byte, 512)
	for {
		n, err := l.rwc.Read(buf)
		frames.Feed(buf[:n], l.take)
		if err != nil {
			l.fail(fmt.Errorf("%w: reading: %v", ErrLinkLost, err))
			return
		}
	}
}

// take sorts one frame. Spoilt and unknown frames are passed over.
func (l *link) take(f protocol.Frame, err error) {
	if err != nil {
		return
	}
	if f.Type == protocol.TypeEvent {
		if e, err := protocol.ParseEvent(f.Body); err == nil {
			l.hear(e.Status, false)
			l.events(e)
		}
		return
	}
	r, err := protocol.ParseReply(f.Body)
	if f.Type&protocol.ReplyBit == 0 || err != nil {
		return
	}
	l.mu.Lock()
	waiting := l.waiting[key(f.Type&^protocol.ReplyBit, f.Seq)]
	l.mu.Unlock()
	l.hear(r.Status, waiting != nil)
	select {
	case waiting <- answer{r, f.Body}:
	default: // nobody waits for it, or it came twice
	}
}

func (l *link) hear(s protocol.Status, asked bool) {
	if err := l.heard(s, asked); err != nil {
		l.mu.Lock()
		defer l.mu.Unlock()
		if l.reset == nil {
			l.reset = err
		}
	}
}

// write is the writer goroutine: stops first, then the outstanding request. It
// ends with the line; a write that hangs ends when the line is closed or later.
func (l *link) write() {
	for {
		select {
		case <-l.wake:
		case <-l.ended:
			return
		}
		for wire := l.due(); wire != nil; wire = l.due() {
			if _, err := l.rwc.Write(wire); err != nil {
				l.fail(fmt.Errorf("%w: writing: %v", ErrLinkLost, err))
				return
			}
		}
	}
}

// due is what is to be written now. A motion ordered before a Halt is dropped.
func (l *link) due() []byte {
	l.mu.Lock()
	defer l.mu.Unlock()
	for seq, wire := range l.stops { // one is as good as another
		delete(l.stops, seq)
		return wire
	}
	wire := l.next
	l.next = nil
	if l.under.void(l.halts) {
		return nil
	}
	return wire
}

// fail ends the line for the first reason given.
func (l *link) fail(err error) {
	l.once.Do(func() {
		l.mu.Lock()
		l.failed = err
		l.mu.Unlock()
		close(l.ended)
	})
}

// over is why requests are no longer served, or nil.
func (l *link) over() error {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.failed != nil {
		return l.failed
	}
	return l.reset
}

func key(t protocol.Type, seq uint8) uint16 { return uint16(t)<<8 | uint16(seq) }

// expect gives a new request its sequence number and a place for its reply.
func (l *link) expect(t protocol.Type) (seq uint8, ch chan answer) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.seq++
	ch = make(chan answer, 1)
	l.waiting[key(t, l.seq)] = ch
	return l.seq, ch
}

func (l *link) forget(t protocol.Type, seq uint8) {
	l.mu.Lock()
	defer l.mu.Unlock()
	delete(l.waiting, key(t, seq))
}

// order is the state of Halt that a motion was ordered under.
type order struct {
	halts  uint64
	halted chan struct{}
}

// void says that Halt has been called since.
func (o *order) void(halts uint64) bool { return o != nil && o.halts != halts }

func (l *link) order() *order {
	l.mu.Lock()
	defer l.mu.Unlock()
	return &order{l.halts, l.halted}
}

// request sends a request and waits for its reply, repeating it every timeout.
// A request of a motion (o not nil) is given up when Halt comes in between, and
// is never written after the stop.
func (l *link) request(ctx context.Context, t protocol.Type, body []byte, o *order, timeout time.Duration, tries int) (answer, error) {
	if ctx.Err() != nil {
		return answer{}, ctx.Err()
	}
	select {
	case <-l.turn:
		defer func() { l.turn <- struct{}{} }()
	case <-ctx.Done():
		return answer{}, ctx.Err()
	case <-l.ended:
		return answer{}, l.over()
	}
	if err := l.over(); err != nil {
		return answer{}, err
	}
	seq, ch := l.expect(t)
	defer l.forget(t, seq)
	var halted chan struct{}
	if o != nil {
		halted = o.halted
	}
	wire := protocol.Frame{Type: t, Seq: seq, Body: body}.Append([]byte{0})
	timer := time.NewTimer(timeout)
	defer timer.Stop()
	for try := range tries {
		// A zero first where what came before may have been cut.
		next := wire
		if try == 0 && t != protocol.TypeHello {
			next = wire[1:]
		}
		if !l.post(next, o) {
			return answer{}, errHalted
		}
		select {
		case a := <-ch:
			return a, l.over()
		case <-ctx.Done():
			return answer{}, ctx.Err()
		case <-halted:
			return answer{}, errHalted
		case <-l.ended:
			return answer{}, l.over()
		case <-timer.C:
			timer.Reset(timeout)
		}
	}
	return answer{}, fmt.Errorf("%w: %d tries of %v", ErrNoAnswer, tries, timeout)
}

// post hands a request to the writer, unless it was ordered before a Halt.
func (l *link) post(wire []byte, o *order) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	if o.void(l.halts) {
		return false
	}
	l.next, l.under = wire, o
	l.wakeWriter()
	return true
}

func (l *link) wakeWriter() {
	select {
	case l.wake <- struct{}{}:
	default:
	}
}

// stop writes a stop ahead of everything and waits for its reply, repeating it
// every timeout. Whatever motion was ordered before is given up.
func (l *link) stop(timeout time.Duration, tries int) error {
	seq, ch := l.expect(protocol.TypeStop)
	defer l.forget(protocol.TypeStop, seq)
	wire := protocol.Frame{Type: protocol.TypeStop, Seq: seq, Body: protocol.Stop{}.Append(nil)}.Append([]byte{0})

	l.mu.Lock()
	l.halts++
	close(l.halted)
	l.halted = make(chan struct{})
	l.mu.Unlock()

	timer := time.NewTimer(timeout)
	defer timer.Stop()
	for range tries {
		l.mu.Lock()
		l.stops[seq] = wire
		l.wakeWriter()
		l.mu.Unlock()
		select {
		case <-ch:
			return nil
		case <-l.ended:
			return l.over()
		case <-timer.C:
			timer.Reset(timeout)
		}
	}
	return fmt.Errorf("%w to STOP: %d tries of %v", ErrNoAnswer, tries, timeout)
}
