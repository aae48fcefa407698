package virtual

import (
	"math"
	"math/rand/v2"
)

// Lateness describes the delays of a board and the errors of its line. The zero value has
// neither. The same seed and the same bytes at the same frames give the same course.
type Lateness struct {
	// A reply is sent ReplyMillis after its request, plus a uniform part of
	// ReplyJitterMillis. Replies and events keep their order.
	ReplyMillis, ReplyJitterMillis float64
	// FirstStepMillis is the greatest delay of the first step of a move after the reply
	// to the move. The delay is uniform from 0 to that, but not shorter than the ramp
	// needs for a step.
	FirstStepMillis float64
	// ClockPPM is how fast the board's clock, and with it each motion, runs against the
	// frames of sound, in parts per million.
	ClockPPM float64
	// WrongBytes is the probability that a byte on the line, either way, is spoilt: one
	// in ten of these is lost, the others become another byte.
	WrongBytes float64
	Seed       uint64
}

// Streams of random numbers, one for the board and one for each direction of the line, so
// that none changes the numbers of another.
const (
	streamBoard uint64 = iota + 1
	streamToJig
	streamFromJig
)

// lateness is the state of Lateness in a jig.
type lateness struct {
	Lateness
	board          *rand.Rand
	toJig, fromJig *noise
	waiting        []delayed // in the order of sending
	replyDue       int64     // frame at which the reply to the present request is due
}

// delayed is a frame that waits to be sent.
type delayed struct {
	due  int64
	line *line
	wire []byte
	// build makes the wire bytes if they are not made yet. It uses the status at the time
	// of its call.
	build func() []byte
}

func newLateness(l Lateness) lateness {
	stream := func(n uint64) *rand.Rand { return rand.New(rand.NewPCG(l.Seed, n*0x9e3779b97f4a7c15)) }
	return lateness{
		Lateness: l, board: stream(streamBoard),
		toJig:   &noise{l.WrongBytes, stream(streamToJig)},
		fromJig: &noise{l.WrongBytes, stream(streamFromJig)},
	}
}

// pace returns the seconds of the board's clock per second of sound.
func (l Lateness) pace() float64 { return 1 + l.ClockPPM*1e-6 }

// replies reports whether replies are sent later than their requests are carried out.
func (l Lateness) replies() bool { return l.ReplyMillis > 0 || l.ReplyJitterMillis > 0 }

// plan draws the due frame of the reply to the present request. A reply is never due
// before an earlier one.
func (v *Jig) plan() {
	l := &v.late
	l.replyDue = v.frame
	if !l.replies() {
		return
	}
	l.replyDue += int64((l.ReplyMillis + l.ReplyJitterMillis*l.board.Float64()) * float64(v.opt.Rate) / 1000)
	if n := len(l.waiting); n > 0 {
		l.replyDue = max(l.replyDue, l.waiting[n-1].due)
	}
}

// putOff delays the beginning of a motion, so that its first step comes a random time
// after the reply to it.
func (v *Jig) putOff(m *motion) {
	if v.late.FirstStepMillis <= 0 {
		return
	}
	share := v.late.board.Float64()
	wait := share*v.late.FirstStepMillis/1000 - m.firstStep()/v.late.pace()
	m.began = max(m.began, v.late.replyDue+int64(math.Floor(wait*float64(v.opt.Rate))))
}

// reply sends the reply made by build, now or when it is due. Half of the delayed replies
// have the status at the time of sending, half that at the present, when the request was
// carried out.
func (v *Jig) reply(l *line, build func() []byte) {
	if !v.late.replies() {
		v.send(l, build())
		return
	}
	d := delayed{due: v.late.replyDue, line: l, build: build}
	if v.late.board.Uint64()&1 == 0 {
		v.buildWaiting()
		d.wire, d.build = build(), nil
	}
	v.late.waiting = append(v.late.waiting, d)
	v.sendDue()
}

// tell sends an event after the waiting replies.
func (v *Jig) tell(l *line, wire []byte) {
	n := len(v.late.waiting)
	if n == 0 {
		v.send(l, wire)
		return
	}
	v.late.waiting = append(v.late.waiting, delayed{due: v.late.waiting[n-1].due, line: l, wire: wire})
}

// buildWaiting makes the bytes of the waiting frames. It runs before the status of any
// other frame, so that the statuses on the line are in time order.
func (v *Jig) buildWaiting() {
	for i := range v.late.waiting {
		if d := &v.late.waiting[i]; d.build != nil {
			d.wire, d.build = d.build(), nil
		}
	}
}

// sendDue sends the frames due now.
func (v *Jig) sendDue() {
	for len(v.late.waiting) > 0 && v.late.waiting[0].due <= v.frame {
		d := v.late.waiting[0]
		v.late.waiting = v.late.waiting[1:]
		if d.build != nil {
			d.wire = d.build()
		}
		if _, there := v.lines[d.line]; there && !d.line.gone {
			v.send(d.line, d.wire)
		}
	}
}

// forget drops the waiting frames: a board that starts or hangs does not send them.
func (v *Jig) forget() { v.late.waiting = nil }

// Due returns the frame of the jig's clock at which the first delayed reply will be sent,
// and whether one waits.
func (v *Jig) Due() (frame int64, waiting bool) {
	v.mu.Lock()
	defer v.mu.Unlock()
	if len(v.late.waiting) == 0 {
		return 0, false
	}
	return v.late.waiting[0].due, true
}

// Taken returns the bytes that the jig has taken from its lines since it was made. A byte
// counts when its request has been carried out and the reply is sent or, if delayed, is
// in the queue of Due.
func (v *Jig) Taken() int64 {
	v.mu.Lock()
	defer v.mu.Unlock()
	return v.taken
}

// Sent returns the bytes that the jig has handed over for writing to its lines since it
// was made: those that its host receives. Bytes dropped by a full queue do not count.
func (v *Jig) Sent() int64 {
	v.mu.Lock()
	defer v.mu.Unlock()
	return v.sent
}

// noise spoils the bytes in one direction of the line.
type noise struct {
	wrong float64
	draw  *rand.Rand
}

// spoil replaces or drops bytes, in place. Each byte has its own draws, so the division
// of bytes into pieces makes no difference.
func (n *noise) spoil(bytes []byte) []byte {
	if n.wrong <= 0 {
		return bytes
	}
	kept := bytes[:0]
	for _, b := range bytes {
		if n.draw.Float64() < n.wrong {
			if n.draw.IntN(10) == 0 {
				continue
			}
			b += byte(1 + n.draw.IntN(255))
		}
		kept = append(kept, b)
	}
	return kept
}
