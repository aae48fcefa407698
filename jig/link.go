package jig

import (
	"context"
	"errors"
	"fmt"
	"io"
	"sync"
	"time"

	protocol "headtrue/firmware-protocol"
	"headtrue/jig/fault"
)

// errHalted reports that Halt came before a motion had begun.
var errHalted = errors.New("halted")

// link exchanges frames on a line: a reader, a writer, replies matched to requests.
type link struct {
	rwc   io.ReadWriteCloser
	clock Clock
	// heard gets each status and the request that it answers, nil for an event or a reply
	// to no waiting request. After an error from it only STOP is served.
	heard  func(s protocol.Status, to *await) error
	events func(protocol.Event)

	mu         sync.Mutex
	seq        uint8
	current    *await            // the outstanding request; stops are separate
	waiting    map[uint16]*await // by type and sequence
	stops      map[uint8][]byte  // to be written first, by sequence
	next       []byte            // bytes of the outstanding request, to be written
	writing    bool
	unanswered int    // consecutive statuses of poll without a reply
	reset      error  // why only STOP is still served
	failed     error  // why the line has ended
	halts      uint64 // number of calls of Halt

	wake  chan struct{} // wakes the writer
	ended chan struct{} // closed once failed is set
	once  sync.Once
	tasks sync.WaitGroup
}

// await is a request without a reply yet.
type await struct {
	kind   protocol.Type
	seq    uint8
	under  *order    // the order of a motion; nil for other requests
	until  time.Time // end of the wait for a status of poll, which has no waiting caller
	asked  time.Time // when the request was made
	heard  time.Time // when its reply came
	done   chan struct{}
	answer answer
	err    error
}

type answer struct {
	reply protocol.Reply
	body  []byte
	// firstStepMicros is in the reply to a status from link 1.2 on. It is valid if the
	// status has the flag.
	firstStepMicros uint32
}

func (w *await) ended() bool {
	select {
	case <-w.done:
		return true
	default:
		return false
	}
}

func newLink(rwc io.ReadWriteCloser, clock Clock, heard func(protocol.Status, *await) error, events func(protocol.Event)) *link {
	l := &link{
		rwc: rwc, clock: clock, heard: heard, events: events, waiting: map[uint16]*await{},
		stops: map[uint8][]byte{}, wake: make(chan struct{}, 1), ended: make(chan struct{}),
	}
	clock.Attach(l.quiet)
	l.tasks.Go(l.read)
	l.tasks.Go(l.write)
	return l
}

// guarded runs a part of the work of the reader or the poller. If that panics, the link
// sends a STOP and then serves no request but STOP.
func (l *link) guarded(do func()) {
	defer fault.Recovered(l.broke)
	do()
}

func (l *link) broke(err error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.reset == nil {
		l.reset = err
	}
	for _, w := range l.waiting {
		if w.kind != protocol.TypeStop {
			l.endLocked(w, err)
		}
	}
	l.halts++
	w := l.expect(protocol.TypeStop, nil)
	l.stops[w.seq] = stopFrame(w.seq)
	l.wakeWriter()
}

func stopFrame(seq uint8) []byte {
	return protocol.Frame{Type: protocol.TypeStop, Seq: seq, Body: protocol.Stop{}.Append(nil)}.Append([]byte{0})
}

// read is the reader goroutine; it ends with the line.
func (l *link) read() {
	defer fault.Recovered(l.fail)
	var frames protocol.Splitter
	buf := make([]byte, 512)
	for {
		n, err := l.rwc.Read(buf)
		l.guarded(func() { frames.Feed(buf[:n], l.take) })
		if err != nil {
			l.fail(fmt.Errorf("%w: reading: %v", ErrLinkLost, err))
			return
		}
	}
}

// take handles one frame. It ignores spoilt and unknown frames.
func (l *link) take(f protocol.Frame, err error) {
	if err != nil {
		return
	}
	if f.Type == protocol.TypeEvent {
		if e, err := protocol.ParseEvent(f.Body); err == nil {
			l.hear(e.Status, nil)
			l.events(e)
		}
		return
	}
	r, err := protocol.ParseReply(f.Body)
	if f.Type&protocol.ReplyBit == 0 || err != nil {
		return
	}
	a := answer{reply: r, body: f.Body}
	if f.Type == protocol.TypeStatus|protocol.ReplyBit {
		said, err := protocol.ParseStatusReply(f.Body)
		if err != nil {
			return
		}
		a.firstStepMicros = said.FirstStepMicros
	}
	w := l.answered(key(f.Type&^protocol.ReplyBit, f.Seq), a)
	l.hear(r.Status, w)
	if w != nil {
		l.end(w, nil)
	}
}

// answered records the reply to a waiting request and returns the request.
func (l *link) answered(key uint16, a answer) *await {
	l.mu.Lock()
	defer l.mu.Unlock()
	w := l.waiting[key]
	if w != nil {
		l.unanswered = 0
		w.heard, w.answer = l.clock.Now(), a
	}
	return w
}

func (l *link) hear(s protocol.Status, to *await) {
	if err := l.heard(s, to); err != nil {
		l.mu.Lock()
		defer l.mu.Unlock()
		if l.reset == nil {
			l.reset = err
		}
	}
}

// end ends a request, with its answer if err is nil.
func (l *link) end(w *await, err error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.endLocked(w, err)
}

func (l *link) endLocked(w *await, err error) {
	if w.ended() {
		return
	}
	w.err = err
	close(w.done)
	delete(l.waiting, key(w.kind, w.seq))
	if l.current == w {
		l.current = nil
	}
}

// write is the writer goroutine. It writes stops first, then the outstanding request. It
// ends with the line; a write that hangs ends when the line is closed or later.
func (l *link) write() {
	defer fault.Recovered(l.fail)
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

// due returns the bytes to write now. It drops a motion ordered before a Halt.
func (l *link) due() []byte {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.writing = false
	for seq, wire := range l.stops { // any order will do
		delete(l.stops, seq)
		l.writing = true
		return wire
	}
	wire := l.next
	l.next = nil
	if l.current == nil || l.current.under.void(l.halts) {
		return nil
	}
	l.writing = wire != nil
	return wire
}

// quiet reports whether everything has been written.
func (l *link) quiet() bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.failed != nil || len(l.stops) == 0 && l.next == nil && !l.writing
}

// fail ends the line. The first reason given is kept.
func (l *link) fail(err error) {
	l.once.Do(func() {
		l.mu.Lock()
		defer l.mu.Unlock()
		l.failed = err
		for _, w := range l.waiting {
			l.endLocked(w, err)
		}
		close(l.ended)
	})
}

// over returns why requests are no longer served, or nil.
func (l *link) over() error {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.overLocked()
}

func (l *link) overLocked() error {
	if l.failed != nil {
		return l.failed
	}
	return l.reset
}

func key(t protocol.Type, seq uint8) uint16 { return uint16(t)<<8 | uint16(seq) }

// expect makes a new request with its sequence number and registers it for its reply.
func (l *link) expect(t protocol.Type, o *order) *await {
	l.seq++
	w := &await{kind: t, seq: l.seq, under: o, asked: l.clock.Now(), done: make(chan struct{})}
	l.waiting[key(t, l.seq)] = w
	return w
}

// order records the number of halts at the time a motion was ordered.
type order struct{ halts uint64 }

// void reports whether Halt has been called since.
func (o *order) void(halts uint64) bool { return o != nil && o.halts != halts }

func (l *link) order() *order {
	l.mu.Lock()
	defer l.mu.Unlock()
	return &order{l.halts}
}

// request sends a request, repeats it every timeout, and waits for its reply. When Halt
// comes, a motion's request (o not nil) ends and is never written after the stop.
func (l *link) request(ctx context.Context, t protocol.Type, body []byte, o *order, timeout time.Duration, tries int) (answer, error) {
	w, err := l.begin(ctx, t, o)
	if err != nil {
		return answer{}, err
	}
	wire := protocol.Frame{Type: t, Seq: w.seq, Body: body}.Append([]byte{0})
	for try := range tries {
		// Begin with a zero if an earlier frame may have been cut.
		next := wire
		if try == 0 && t != protocol.TypeHello {
			next = wire[1:]
		}
		l.post(w, next)
		l.clock.Wait(ctx, w.done, l.clock.Now().Add(timeout))
		if w.ended() {
			if w.err == nil {
				w.err = l.over()
			}
			return w.answer, w.err
		}
		if ctx.Err() != nil {
			l.end(w, ctx.Err())
			return answer{}, ctx.Err()
		}
	}
	err = fmt.Errorf("%w: %d tries of %v", ErrNoAnswer, tries, timeout)
	l.end(w, err)
	return answer{}, err
}

// begin waits until no other request is outstanding, then makes a new one.
func (l *link) begin(ctx context.Context, t protocol.Type, o *order) (*await, error) {
	for {
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		l.mu.Lock()
		if err := l.overLocked(); err != nil {
			l.mu.Unlock()
			return nil, err
		}
		if o.void(l.halts) {
			l.mu.Unlock()
			return nil, errHalted
		}
		other := l.current
		if other == nil {
			w := l.expect(t, o)
			l.current, l.next = w, nil
			l.mu.Unlock()
			return w, nil
		}
		l.mu.Unlock()
		// Every request ends: by its reply, by its last try, or with the line. A status
		// of poll is given up here if nothing polls any more.
		until := other.until
		if until.IsZero() {
			until = l.clock.Now().Add(time.Minute)
		}
		l.clock.Wait(ctx, other.done, until)
		l.mu.Lock()
		l.giveUp(other)
		l.mu.Unlock()
	}
}

// giveUp ends a status of poll that has no reply in time.
func (l *link) giveUp(w *await) {
	if !w.ended() && !w.until.IsZero() && !l.clock.Now().Before(w.until) {
		l.unanswered++
		l.endLocked(w, ErrNoAnswer)
	}
}

// post hands a request to the writer, unless the request has ended.
func (l *link) post(w *await, wire []byte) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if !w.ended() {
		l.next = wire
		l.wakeWriter()
	}
}

// poll asks for the status if no request is outstanding. It first gives up an earlier
// status without a reply within timeout: a status has no effect, so a new one is better
// than a repeat. It does not wait.
func (l *link) poll(timeout time.Duration) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.current != nil {
		l.giveUp(l.current)
	}
	if l.current != nil || l.overLocked() != nil {
		return
	}
	w := l.expect(protocol.TypeStatus, nil)
	w.until, l.current = w.asked.Add(timeout), w
	wire := protocol.Frame{Type: protocol.TypeStatus, Seq: w.seq}.Append([]byte{0})
	if l.unanswered == 0 {
		wire = wire[1:]
	}
	l.next = wire
	l.wakeWriter()
}

// silent returns the number of consecutive statuses of poll without a reply.
func (l *link) silent() int {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.unanswered
}

func (l *link) wakeWriter() {
	select {
	case l.wake <- struct{}{}:
	default:
	}
}

// stop writes a STOP ahead of everything, repeats it every timeout, and waits for its
// reply. It ends all motions ordered before it.
func (l *link) stop(timeout time.Duration, tries int) error {
	l.mu.Lock()
	w := l.expect(protocol.TypeStop, nil)
	l.halts++
	for _, other := range l.waiting {
		if other.under.void(l.halts) {
			l.endLocked(other, errHalted)
		}
	}
	l.mu.Unlock()
	wire := stopFrame(w.seq)
	for range tries {
		l.mu.Lock()
		err := l.failed
		l.stops[w.seq] = wire
		l.wakeWriter()
		l.mu.Unlock()
		if err != nil {
			l.end(w, err)
		}
		l.clock.Wait(context.Background(), w.done, l.clock.Now().Add(timeout))
		if w.ended() {
			if w.err == nil && w.answer.reply.Code != protocol.OK {
				return &RefusedError{Request: "STOP", Code: w.answer.reply.Code}
			}
			return w.err
		}
	}
	err := fmt.Errorf("%w to STOP: %d tries of %v", ErrNoAnswer, tries, timeout)
	l.end(w, err)
	return err
}
