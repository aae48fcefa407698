package jig_test

import (
	"context"
	"errors"
	"io"
	"net"
	"testing"
	"time"

	protocol "headtrue/firmware-protocol"
	"headtrue/jig"
	"headtrue/jig/virtual"
)

// far is the far end of a line; the test gives its answers by hand.
type far struct {
	net.Conn
	frames chan protocol.Frame
}

// byHand opens a Jig on a line on which the test sees each frame. It answers the
// greeting.
func byHand(t *testing.T) (*jig.Jig, *far) {
	t.Helper()
	host, end := net.Pipe()
	f := &far{Conn: end, frames: make(chan protocol.Frame, 64)}
	go func() { // ends with the pipe
		defer close(f.frames)
		var split protocol.Splitter
		buf := make([]byte, 256)
		for {
			n, err := end.Read(buf)
			split.Feed(buf[:n], func(frame protocol.Frame, err error) {
				if err == nil {
					f.frames <- frame
				}
			})
			if err != nil {
				return
			}
		}
	}()
	go func() {
		f.answer(t, f.next(t, protocol.TypeHello))
		f.answer(t, f.next(t, protocol.TypeStatus))
	}()
	j, err := jig.Open(t.Context(), host, profile(), jig.ReplyTimeout(time.Hour)) // nothing here may need a repeat
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = end.Close(); _ = j.Close() })
	return j, f
}

// next waits for a frame, which must have this type.
func (f *far) next(t *testing.T, kind protocol.Type) protocol.Frame {
	t.Helper()
	frame := <-f.frames
	if frame.Type != kind {
		t.Errorf("the host sent %s; want %s", frame, kind)
	}
	return frame
}

// answer replies ok.
func (f *far) answer(t *testing.T, to protocol.Frame) {
	t.Helper()
	f.answerWith(t, to, protocol.Status{Boot: 1, Flags: protocol.FlagEnergised})
}

func (f *far) answerWith(t *testing.T, to protocol.Frame, s protocol.Status) {
	t.Helper()
	body := protocol.Reply{Status: s}.Append(nil)
	if to.Type == protocol.TypeHello {
		body = protocol.Greeting{Major: protocol.Major, MicrostepsPerMotorTurn: 3200, MaxSpeed: 1600, Accel: 8000}.Append(body)
	}
	if _, err := f.Write(protocol.Frame{Type: to.Type | protocol.ReplyBit, Seq: to.Seq, Body: body}.Append(nil)); err != nil {
		t.Error(err)
	}
}

// A frame older than the last one is ignored.
func TestOldFrameIsPassedOver(t *testing.T) {
	j, jigEnd := byHand(t)
	for _, micros := range []uint32{2000, 3000} {
		asked := make(chan error, 1)
		go func() { _, err := j.Status(context.Background()); asked <- err }()
		jigEnd.answerWith(t, jigEnd.next(t, protocol.TypeStatus), statusAt(micros, 320))
		if err := <-asked; err != nil {
			t.Fatal(err)
		}
		old := protocol.Frame{Type: protocol.TypeEvent, Body: protocol.Event{Kind: protocol.EventDone, Status: statusAt(1000, 0)}.Append(nil)}
		if _, err := jigEnd.Write(old.Append(nil)); err != nil {
			t.Fatal(err)
		}
	}
	if got := j.Travel(); got != 36 {
		t.Errorf("travel %v degrees; want 36", got)
	}
}

// A requested reply is accepted after any time without requests, for example while the
// program waits for a person. After 36 to 71 minutes the difference of the jig's times,
// 32 bits of microseconds, looks negative.
func TestReplyAfterALongSilence(t *testing.T) {
	j, jigEnd := byHand(t)
	var now uint64
	for i, minutes := range []uint64{35, 36, 50, 71} {
		now += minutes * 60e6
		position := int32(320 * (i + 1))
		asked := make(chan jig.Status, 1)
		go func() {
			s, err := j.Status(context.Background())
			if err != nil {
				t.Error(err)
			}
			asked <- s
		}()
		jigEnd.answerWith(t, jigEnd.next(t, protocol.TypeStatus),
			protocol.Status{Boot: 1, Flags: protocol.FlagEnergised, Micros: uint32(now), Position: position})
		if s := <-asked; s.Microsteps != position || s.Micros != now {
			t.Errorf("after %d minutes at %d, %d us; want %d, %d", minutes, s.Microsteps, s.Micros, position, now)
		}
	}
	if got := j.Travel(); got != 4*36 {
		t.Errorf("travel %v degrees; want 144", got)
	}
}

// The jig is busy with another request and does not answer it. STOP does not wait for it.
func TestHaltOvertakesAnOutstandingRequest(t *testing.T) {
	j, jigEnd := byHand(t)
	asked := make(chan error, 1)
	go func() { _, err := j.Status(context.Background()); asked <- err }()
	pending := jigEnd.next(t, protocol.TypeStatus)
	halted := make(chan error, 1)
	go func() { halted <- j.Halt() }()
	jigEnd.answer(t, jigEnd.next(t, protocol.TypeStop))
	if err := <-halted; err != nil {
		t.Errorf("halt: %v", err)
	}
	jigEnd.answer(t, pending)
	if err := <-asked; err != nil {
		t.Errorf("the request that was overtaken: %v", err)
	}
}

// A move whose reply is lost is repeated, but never after a stop.
func TestNoMoveIsSentAfterHalt(t *testing.T) {
	j, jigEnd := byHand(t)
	started := make(chan error, 1)
	go func() { started <- j.Start(context.Background(), 90) }()
	jigEnd.next(t, protocol.TypeMove) // and no answer
	halted := make(chan error, 1)
	go func() { halted <- j.Halt() }()
	var stops int
	for ended := 0; ended < 2; {
		select {
		case f := <-jigEnd.frames:
			if f.Type != protocol.TypeStop {
				t.Fatalf("the host sent %s after the stop", f)
			}
			stops++
			jigEnd.answer(t, f)
		case err := <-halted:
			if err != nil {
				t.Errorf("halt: %v", err)
			}
			ended++
		case err := <-started:
			var s *jig.StoppedError
			if !errors.As(err, &s) || s.Reason != jig.ReasonOrder {
				t.Errorf("the move given up: %v; want a stop order", err)
			}
			ended++
		}
	}
	if stops == 0 {
		t.Error("no stop was sent")
	}
}

// STOP is repeated if its frame is lost.
func TestHaltIsRepeated(t *testing.T) {
	j, jigEnd := byHand(t)
	halted := make(chan error, 1)
	go func() { halted <- j.Halt() }()
	first := jigEnd.next(t, protocol.TypeStop)
	again := jigEnd.next(t, protocol.TypeStop)
	if first.Seq != again.Seq {
		t.Errorf("the repeat has number %d; want %d", again.Seq, first.Seq)
	}
	jigEnd.answer(t, again)
	if err := <-halted; err != nil {
		t.Error(err)
	}
}

// A jig that refuses STOP has not stopped: Halt says so.
func TestHaltThatIsRefused(t *testing.T) {
	j, jigEnd := byHand(t)
	halted := make(chan error, 1)
	go func() { halted <- j.Halt() }()
	stop := jigEnd.next(t, protocol.TypeStop)
	reply := protocol.Frame{Type: stop.Type | protocol.ReplyBit, Seq: stop.Seq, Body: protocol.Reply{Code: protocol.Malformed, Status: statusAt(1, 0)}.Append(nil)}
	if _, err := jigEnd.Write(reply.Append(nil)); err != nil {
		t.Fatal(err)
	}
	var refused *jig.RefusedError
	if err := <-halted; !errors.As(err, &refused) || refused.Code != protocol.Malformed {
		t.Errorf("halt: %v; want refused as too short", err)
	}
}

func TestHaltWhileAnotherWaits(t *testing.T) {
	v := virtual.New(virtual.Options{})
	j := open(t, v, profile())
	turning := make(chan struct{})
	var told bool
	ended := make(chan error, 1)
	go func() {
		_, err := j.MoveTo(context.Background(), 300, func(context.Context) error {
			v.Advance(1024)
			if !told && v.Shaft().Microsteps > 200 {
				told = true
				close(turning)
			}
			return nil
		})
		ended <- err
	}()
	<-turning
	if err := j.Halt(); err != nil {
		t.Fatal(err)
	}
	var stopped *jig.StoppedError
	if err := <-ended; !errors.As(err, &stopped) || stopped.Reason != jig.ReasonOrder {
		t.Errorf("the move that was halted: %v; want a stop order", err)
	}
	if s := stopped.Status; s.Memory != jig.Kept || v.Shaft().Moving || float64(s.Microsteps) != v.Shaft().Microsteps {
		t.Errorf("after the halt %+v, shaft %+v; want kept and standing", s, v.Shaft())
	}
}

// No leg of an arrival begins after a halt.
func TestHaltEndsAnArrival(t *testing.T) {
	v := virtual.New(virtual.Options{})
	j := open(t, v, profile())
	calls := 0
	_, err := j.ArriveAt(t.Context(), 10, func(context.Context) error {
		v.Advance(48000 / 5)
		if calls++; !v.Shaft().Moving {
			return j.Halt() // the first leg is done, the host has not heard of it yet
		}
		return nil
	})
	var stopped *jig.StoppedError
	if !errors.As(err, &stopped) || stopped.Reason != jig.ReasonOrder {
		t.Errorf("arrival halted between its legs: %v; want a stop order", err)
	}
	if got := v.Shaft(); got.Moving || got.Microsteps != -178 {
		t.Errorf("the shaft is at %+v; want standing at -178, 20 degrees back", got)
	}
}

// stuck is a line that accepts no more bytes once it is stuck.
type stuck struct {
	io.ReadWriteCloser
	now, gone chan struct{}
}

func (s *stuck) Write(b []byte) (int, error) {
	select {
	case <-s.now:
		<-s.gone
		return 0, io.ErrClosedPipe
	default:
		return s.ReadWriteCloser.Write(b)
	}
}

// A serial port has no write deadline: a write that hangs must not delay a request, STOP
// or Close.
func TestWriteThatHangs(t *testing.T) {
	t.Parallel()
	v := virtual.New(virtual.Options{})
	line := &stuck{virtual.Pipe(t.Context(), v), make(chan struct{}), make(chan struct{})}
	j := openLine(t, line, profile(), jig.ReplyTimeout(20*time.Millisecond))
	close(line.now)
	if _, err := j.Status(t.Context()); !errors.Is(err, jig.ErrNoAnswer) {
		t.Errorf("status: %v; want %v", err, jig.ErrNoAnswer)
	}
	if err := j.Halt(); !errors.Is(err, jig.ErrNoAnswer) {
		t.Errorf("halt: %v; want %v", err, jig.ErrNoAnswer)
	}
	if err := j.Close(); err != nil {
		t.Errorf("close: %v", err)
	}
	close(line.gone) // lets the writer end
}

func TestHaltFromManySides(t *testing.T) {
	v := virtual.New(virtual.Options{})
	j := open(t, v, profile())
	if err := j.Start(t.Context(), 90); err != nil {
		t.Fatal(err)
	}
	v.Advance(4800)
	results := make(chan error)
	for range 16 {
		go func() { results <- j.Halt() }()
	}
	for range 16 {
		if err := <-results; err != nil {
			t.Error(err)
		}
	}
	if _, err := j.Wait(t.Context(), lockStep(v)); err == nil {
		t.Error("wait after a halt says that the target was reached")
	}
	if _, err := j.MoveTo(t.Context(), 90, lockStep(v)); err != nil {
		t.Errorf("a move ordered after the halt: %v", err)
	}
}

// statusAt returns the status of a jig with its motor energised.
func statusAt(micros uint32, position int32) protocol.Status {
	return protocol.Status{Boot: 1, Flags: protocol.FlagEnergised, Micros: micros, Position: position}
}
