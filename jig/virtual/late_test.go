package virtual_test

import (
	"bytes"
	"io"
	"math"
	"math/rand/v2"
	"slices"
	"sync"
	"testing"
	"time"

	protocol "headtrue/firmware-protocol"
	"headtrue/jig"
	"headtrue/jig/virtual"
)

// bare is a host in lock-step with its jig: after each call all bytes of either side have
// arrived at the other.
type bare struct {
	t       *testing.T
	v       *virtual.Jig
	line    io.ReadWriteCloser
	written int64
	frame   int64 // of the jig's clock
	seq     uint8

	mu   sync.Mutex
	came []byte
	all  int64
}

func newBare(t *testing.T, o virtual.Options) *bare {
	t.Helper()
	v := virtual.New(o)
	h := &bare{t: t, v: v, line: virtual.Pipe(t.Context(), v)}
	done := make(chan struct{})
	go func() { // ends with the line
		defer close(done)
		buf := make([]byte, 100)
		for {
			n, err := h.line.Read(buf)
			h.mu.Lock()
			h.came, h.all = append(h.came, buf[:n]...), h.all+int64(n)
			h.mu.Unlock()
			if err != nil {
				return
			}
		}
	}()
	t.Cleanup(func() { _ = h.line.Close(); <-done })
	return h
}

func (h *bare) received() int64 {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.all
}

// settle waits until no bytes are in transit, and returns the received bytes.
func (h *bare) settle() []byte {
	h.t.Helper()
	late := time.Now().Add(10 * time.Second)
	for h.v.Taken() != h.written || h.received() != h.v.Sent() {
		if time.Now().After(late) {
			h.t.Fatalf("written %d, taken %d; sent %d, received %d", h.written, h.v.Taken(), h.v.Sent(), h.received())
		}
		time.Sleep(time.Microsecond)
	}
	h.mu.Lock()
	defer h.mu.Unlock()
	came := h.came
	h.came = nil
	return came
}

func (h *bare) raw(wire []byte) []byte {
	h.t.Helper()
	if _, err := h.line.Write(wire); err != nil {
		h.t.Fatal(err)
	}
	h.written += int64(len(wire))
	return h.settle()
}

func (h *bare) send(kind protocol.Type, body []byte) []byte {
	h.t.Helper()
	h.seq++
	return h.raw(protocol.Frame{Type: kind, Seq: h.seq, Body: body}.Append(nil))
}

func (h *bare) pass(frames int64) []byte {
	h.t.Helper()
	h.v.Advance(int(frames))
	h.frame += frames
	return h.settle()
}

// ask sends a request and lets time pass until the reply comes. It must come in the frame
// in which it is due.
func (h *bare) ask(kind protocol.Type, body []byte) protocol.Reply {
	h.t.Helper()
	came := h.send(kind, body)
	if due, waiting := h.v.Due(); waiting {
		if came = append(came, h.pass(due-h.frame-1)...); len(came) > 0 {
			h.t.Fatalf("frame %d: % x came before %d", h.frame, came, due)
		}
		came = h.pass(1)
	}
	replies, _ := sorted(h.t, came)
	if len(replies) != 1 || replies[0].seq != h.seq {
		h.t.Fatalf("request %d: % x has replies %+v", h.seq, came, replies)
	}
	return replies[0].Reply
}

type numbered struct {
	protocol.Reply
	seq uint8
}

// sorted parses bytes, which must be whole frames.
func sorted(t *testing.T, wire []byte) (replies []numbered, micros []uint32) {
	t.Helper()
	var frames protocol.Splitter
	frames.Feed(wire, func(f protocol.Frame, err error) {
		if err != nil {
			t.Fatal(err)
		}
		if f.Type == protocol.TypeEvent {
			e, err := protocol.ParseEvent(f.Body)
			if err != nil {
				t.Fatal(err)
			}
			micros = append(micros, e.Status.Micros)
			return
		}
		r, err := protocol.ParseReply(f.Body)
		if err != nil {
			t.Fatal(err)
		}
		replies, micros = append(replies, numbered{r, f.Seq}), append(micros, r.Status.Micros)
	})
	return replies, micros
}

func (h *bare) ready() {
	h.t.Helper()
	h.ask(protocol.TypeDeclare, protocol.Declare{}.Append(nil))
	h.ask(protocol.TypeSetWindow, protocol.Window{Lo: -64000, Hi: 64000}.Append(nil))
	h.ask(protocol.TypeEnergise, protocol.Energise{On: true}.Append(nil))
}

// near fails if the mean of values differs by more than 5 standard errors from that of
// the distribution, whose standard deviation is sd.
func near(t *testing.T, what string, values []float64, mean, sd float64) {
	t.Helper()
	sum := 0.0
	for _, v := range values {
		sum += v
	}
	got, allowed := sum/float64(len(values)), 5*sd/math.Sqrt(float64(len(values)))
	if math.Abs(got-mean) > allowed {
		t.Errorf("%s: mean %.4f of %d; want %.4f +- %.4f", what, got, len(values), mean, allowed)
	}
}

// Replies come uniformly within their bounds. Half have the status at their sending. All
// have a position that the shaft had at their time.
func TestRepliesAreLate(t *testing.T) {
	h := newBare(t, virtual.Options{Late: virtual.Lateness{ReplyMillis: 10, ReplyJitterMillis: 20, Seed: 1}})
	h.ready()
	draw := rand.New(rand.NewPCG(1, 2))
	position := map[uint32]int32{}
	var waits, late []float64
	for n := range 500 {
		if n%20 == 0 {
			h.ask(protocol.TypeMove, protocol.Move{Target: int32(draw.IntN(8000)), Speed: protocol.FullSpeed}.Append(nil))
		}
		h.pass(draw.Int64N(1000))
		begun := uint32(h.frame * 1e6 / rate)
		position[begun] = int32(h.v.Shaft().Microsteps)
		h.send(protocol.TypeStatus, nil)
		due, _ := h.v.Due()
		waits = append(waits, float64(due-h.frame))
		var came []byte
		for h.frame < due {
			came = h.pass(1)
			position[uint32(h.frame*1e6/rate)] = int32(h.v.Shaft().Microsteps)
		}
		replies, _ := sorted(t, came)
		if len(replies) == 0 {
			t.Fatalf("no reply in frame %d, when it was due", due)
		}
		s := replies[0].Status
		if want, known := position[s.Micros]; !known || s.Position != want {
			t.Fatalf("frame %d: position %d at %d us; the shaft was at %d (%v)", h.frame, s.Position, s.Micros, want, known)
		}
		share := 0.0
		switch s.Micros {
		case begun:
		case uint32(h.frame * 1e6 / rate):
			share = 1
		default: // an event came between: the status is no later than it
		}
		late = append(late, share)
		h.pass(0)
	}
	if lo, hi := slices.Min(waits), slices.Max(waits); lo < 480 || hi > 480+960 {
		t.Errorf("replies after %v to %v frames; want 480 to 1440", lo, hi)
	}
	near(t, "wait in frames", waits, 480+480, 960/math.Sqrt(12))
	near(t, "share of late statuses", late, 0.5, 0.5)
}

// Whatever the host sends while replies wait, requests are answered in order, and all
// frames come in order of their times, for any division of the time.
func TestLateFramesKeepTheirOrder(t *testing.T) {
	run := func(seed uint64, chunk int64) []byte {
		h := newBare(t, virtual.Options{Late: virtual.Lateness{ReplyMillis: 5, ReplyJitterMillis: 40, FirstStepMillis: 30, ClockPPM: 300, Seed: seed}})
		h.ready()
		draw := rand.New(rand.NewPCG(3, 4))
		var came []byte
		asked, first := 0, h.seq+1
		pass := func(frames int64) {
			for frames > 0 {
				n := min(chunk, frames)
				came = append(came, h.pass(n)...)
				frames -= n
			}
		}
		for range 400 {
			kind, body := protocol.TypeStatus, []byte(nil)
			switch draw.IntN(4) {
			case 0:
				kind, body = protocol.TypeMove, protocol.Move{Target: int32(draw.IntN(60)), Speed: protocol.FullSpeed}.Append(nil)
			case 1:
				kind, body = protocol.TypeStop, protocol.Stop{Abrupt: draw.IntN(2) == 0}.Append(nil)
			}
			came = append(came, h.send(kind, body)...)
			asked++
			pass(draw.Int64N(3000))
		}
		pass(rate / 20)
		replies, micros := sorted(t, came)
		if len(replies) != asked || len(micros) < asked+5 {
			t.Errorf("%d requests, %d replies, %d frames", asked, len(replies), len(micros))
		}
		for i, r := range replies {
			if want := first + uint8(i); r.seq != want {
				t.Fatalf("reply %d is to request %d, want %d", i, r.seq, want)
			}
		}
		if !slices.IsSorted(micros) {
			t.Errorf("times go back: %d", micros)
		}
		return came
	}
	want := run(1, 1)
	if got := run(1, 1024); !bytes.Equal(got, want) {
		t.Error("chunks of 1024 frames gave another course than single frames")
	}
	if got := run(2, 1024); bytes.Equal(got, want) {
		t.Error("two seeds gave the same course")
	}
}

// The first step comes uniformly within its time after the reply. The ramp needs 758
// frames for it (half the square of the time times the acceleration is one microstep:
// sqrt(2/8000) s). The delay of the reply covers these; without that delay the step comes
// no earlier.
func TestTheFirstStepIsLate(t *testing.T) {
	for _, reply := range []float64{20, 0} {
		h := newBare(t, virtual.Options{Late: virtual.Lateness{ReplyMillis: reply, FirstStepMillis: 100, Seed: 3}})
		h.ready()
		var waits []float64
		for n := range 200 {
			h.ask(protocol.TypeMove, protocol.Move{Target: int32(200 * (1 - n%2)), Speed: protocol.FullSpeed}.Append(nil))
			replied, begun := h.frame, h.v.Shaft().Microsteps
			for h.v.Shaft().Microsteps == begun {
				h.v.Advance(1)
				h.frame++
			}
			waits = append(waits, float64(h.frame-replied))
			h.pass(rate / 2)
		}
		ramp := math.Ceil(rate * math.Sqrt(2.0/8000))
		if lo, hi := slices.Min(waits), slices.Max(waits); lo < 0 || hi > 4800 || reply == 0 && lo < ramp {
			t.Errorf("replies after %v ms: first steps after %v to %v frames; want up to 4800", reply, lo, hi)
		}
		if reply > 0 {
			near(t, "first step in frames", waits, 2400, 4800/math.Sqrt(12))
			continue
		}
		// The mean of max(x, r), x uniform over 0 to 1, is (1+r*r)/2.
		near(t, "first step in frames", waits, 2400*(1+ramp*ramp/4800/4800), 4800/math.Sqrt(12))
	}
}

// No step comes before the reply to its move, even if the reply waits behind another.
func TestNoStepComesBeforeItsReply(t *testing.T) {
	h := newBare(t, virtual.Options{Late: virtual.Lateness{ReplyJitterMillis: 50, FirstStepMillis: 20, Seed: 7}})
	h.ready()
	for n := range 100 {
		h.send(protocol.TypeStatus, nil)
		first, _ := h.v.Due()
		h.send(protocol.TypeMove, protocol.Move{Target: int32(200 * (1 - n%2)), Speed: protocol.FullSpeed}.Append(nil))
		begun, replies := h.v.Shaft().Microsteps, 0
		for h.frame < first || replies < 2 {
			got, _ := sorted(t, h.pass(1))
			replies += len(got)
			if replies < 2 && h.v.Shaft().Microsteps != begun {
				t.Fatalf("move %d: a step in frame %d, before the reply", n, h.frame)
			}
		}
		h.pass(rate / 2)
	}
}

// A clock that is fast by 300 ppm gains 30,000 us in 100 s, and shortens a move by the
// same ratio.
func TestTheJigsClockIsFast(t *testing.T) {
	for _, ppm := range []float64{300, -300} {
		h := newBare(t, virtual.Options{Late: virtual.Lateness{ClockPPM: ppm}})
		h.ready()
		const way = 6400
		h.ask(protocol.TypeMove, protocol.Move{Target: way, Speed: protocol.FullSpeed}.Append(nil))
		for made := 0.0; made < way; made = h.v.Shaft().Microsteps {
			if h.frame%9600 == 0 {
				h.ask(protocol.TypeStatus, nil)
			}
			h.v.Advance(1)
			h.frame++
			seconds := float64(h.frame) / rate * (1 + ppm/1e6)
			if due := trapezoid(seconds, way, 1600, 8000); math.Abs(h.v.Shaft().Microsteps-due) > 1.001 {
				t.Fatalf("frame %d: %v microsteps; the formula gives %.4f", h.frame, h.v.Shaft().Microsteps, due)
			}
		}
		if want := (way/1600.0 + 0.2) * rate / (1 + ppm/1e6); math.Abs(float64(h.frame)-want) > 1 {
			t.Errorf("the move took %d frames; want %.1f", h.frame, want)
		}
		h.pass(100*rate - h.frame)
		if got, want := h.ask(protocol.TypeStatus, nil).Status.Micros, uint32(100e6+100*ppm); got != want {
			t.Errorf("after 100 s of sound the clock has %d us; want %d", got, want)
		}
	}
}

// Bytes are spoilt at the stated rate. Each reply from the jig is compared with that of a
// jig on a clean line. A request to the jig is answered if all its bytes are right, and
// the zero before it is right or lost.
func TestBytesAreWrongAtTheirRate(t *testing.T) {
	const wrong, requests = 0.02, 4000
	h := newBare(t, virtual.Options{Late: virtual.Lateness{WrongBytes: wrong, Seed: 4}})
	clean := newBare(t, virtual.Options{})
	whole := len(protocol.Frame{Type: protocol.TypeStatus, Seq: 1}.Append(nil))
	var answered, lost, other []float64
	for n := range requests {
		wire := append([]byte{0}, protocol.Frame{Type: protocol.TypeStatus, Seq: uint8(n)}.Append(nil)...)
		got, want := h.raw(wire), clean.raw(wire)
		if len(got) == 0 {
			answered = append(answered, 0)
			continue
		}
		answered = append(answered, 1)
		for i := range want {
			lost = append(lost, 0)
			if i < len(want)-len(got) {
				lost[len(lost)-1] = 1
			}
			if len(got) == len(want) {
				other = append(other, 0)
				if got[i] != want[i] {
					other[len(other)-1] = 1
				}
			}
		}
	}
	sd := func(p float64) float64 { return math.Sqrt(p * (1 - p)) }
	intact := math.Pow(1-wrong, float64(whole)) * (1 - 0.9*wrong)
	near(t, "requests answered", answered, intact, sd(intact))
	near(t, "bytes lost", lost, wrong/10, sd(wrong/10))
	// Only frames that lost no byte.
	near(t, "bytes replaced", other, 0.9*wrong/(1-wrong/10), sd(wrong))
}

// Waiting frames are dropped when the board starts again or hangs.
func TestABoardThatStartsForgetsItsReplies(t *testing.T) {
	for _, kind := range []string{virtual.FaultReset, virtual.FaultPowerLoss, virtual.FaultHang, virtual.FaultCableGone} {
		h := newBare(t, virtual.Options{
			Late: virtual.Lateness{ReplyMillis: 50}, Faults: []virtual.Fault{{Kind: kind, AtSeconds: 0.02}},
		})
		h.send(protocol.TypeStatus, nil)
		if due, waiting := h.v.Due(); !waiting || due != 2400 {
			t.Errorf("%s: due %d, %v; want 2400", kind, due, waiting)
		}
		if came := h.pass(rate / 10); len(came) > 0 {
			t.Errorf("%s: % x came all the same", kind, came)
		}
		if due, waiting := h.v.Due(); waiting {
			t.Errorf("%s: a reply still waits, for %d", kind, due)
		}
	}
}

// Without lateness a reply takes no time, for any seed, and nothing waits.
func TestNoLatenessIsNone(t *testing.T) {
	h, other := newBare(t, virtual.Options{Late: virtual.Lateness{Seed: 5}}), newBare(t, virtual.Options{})
	for n := range 300 {
		kind, body := protocol.TypeStatus, []byte(nil)
		switch n % 30 {
		case 0:
			kind, body = protocol.TypeEnergise, protocol.Energise{On: true}.Append(nil)
		case 5:
			kind, body = protocol.TypeSetWindow, protocol.Window{Hi: 300}.Append(nil)
		case 10:
			kind, body = protocol.TypeMove, protocol.Move{Target: int32(n), Speed: protocol.FullSpeed}.Append(nil)
		}
		got, want := h.send(kind, body), other.send(kind, body)
		if _, waiting := h.v.Due(); waiting || len(got) == 0 || !bytes.Equal(got, want) {
			t.Fatalf("request %d: % x, waiting %v; want % x", n, got, waiting, want)
		}
		got, want = h.pass(1000), other.pass(1000)
		if !bytes.Equal(got, want) {
			t.Fatalf("after request %d: % x; want % x", n, got, want)
		}
	}
	if replies, _ := sorted(t, h.send(protocol.TypeStatus, nil)); replies[0].Status.Position != 280 {
		t.Errorf("the motor is at %d; want 280", replies[0].Status.Position)
	}
}

// A host reaches the latest board that the link allows, on a bad line.
func TestAHostGetsThroughToALateBoard(t *testing.T) {
	v := virtual.New(virtual.Options{Late: virtual.Lateness{
		ReplyMillis: 30, ReplyJitterMillis: 20, FirstStepMillis: 100, ClockPPM: 300, WrongBytes: 0.002, Seed: 6,
	}})
	ended, done := make(chan struct{}), make(chan struct{})
	go func() { // the jig's clock, in real time
		defer close(done)
		begun, frames := time.Now(), 0
		for {
			select {
			case <-ended:
				return
			case <-time.After(time.Millisecond):
			}
			now := int(time.Since(begun).Seconds() * rate)
			v.Advance(now - frames)
			frames = now
		}
	}()
	defer func() { close(ended); <-done }()
	j, err := jig.Open(t.Context(), virtual.Pipe(t.Context(), v), jig.Profile{Name: "test", StepsPerTurn: 200, Microsteps: 16, Gear: 1, Direction: 1})
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	for range 10 {
		if _, err := j.Status(t.Context()); err != nil {
			t.Error(err)
		}
	}
	if v.Taken() == 0 || v.Sent() == 0 {
		t.Error("nothing was counted")
	}
}
