package virtual

import (
	"math"
	"math/rand/v2"
)

// Lateness is how a board and its line differ from ones that answer at once and
// spoil nothing. The zero value is no lateness at all. The same seed and the same
// bytes at the same frames give the same course.
type Lateness struct {
	// A reply is sent ReplyMillis after its request, plus an even share of
	// ReplyJitterMillis. Replies and events keep the order of what happened.
	ReplyMillis, ReplyJitterMillis float64
	// FirstStepMillis is the most by which the first step of a move comes after
	// the reply to the move: evenly from 0 to that, but no sooner than the ramp
	// can make a step.
	FirstStepMillis float64
	// ClockPPM is by how much the board's clock, and with it each motion, is
	// fast against the frames of sound, in parts per million.
	ClockPPM float64
	// WrongBytes is the probability that a byte on the line, either way, is
	// spoilt: one in ten of these is lost, the others become another byte.
	WrongBytes float64
	Seed       uint64
}

// Random numbers of the board, and of the line in either direction: one stream
// each, so that none moves another's numbers.
const (
	streamBoard uint64 = iota + 1
	streamToJig
	streamFromJig
)

// lateness is Lateness at work in a jig.
type lateness struct {
	Lateness
	board          *rand.Rand
	toJig, fromJig *noise
	waiting        []delayed // in the order in which they will be sent
	replyDue       int64     // frame at which the reply to the request in hand is due
}

// delayed is a frame that waits to be sent.
type delayed struct {
	due  int64
	line *line
	wire []byte
	// build makes the wire bytes if they are still to be made: of the status
	// at the time of the call.
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

// pace is seconds of the board's clock per second of sound.
func (l Lateness) pace() float64 { return 1 + l.ClockPPM*1e-6 }

// replies says that replies are sent later than their requests are carried out.
func (l Lateness) replies() bool { return l.ReplyMillis > 0 || l.ReplyJitterMillis > 0 }

// plan draws when the reply to the request in hand is due. A reply is never due
// before the one in front of it.
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

// putOff moves the beginning of a motion to where its first step comes a drawn
// time after the reply to it.
func (v *Jig) putOff(m *motion) {
	if v.late.FirstStepMillis <= 0 {
		return
	}
	share := v.late.board.Float64()
	wait := share*v.late.FirstStepMillis/1000 - m.firstStep()/v.late.pace()
	m.began = max(m.began, v.late.replyDue+int64(math.Floor(wait*float64(v.opt.Rate))))
}

// reply sends the reply that build makes, now or when it is due. Half of the
// delayed ones have the status of the instant they are sent, half that of now,
// in which the request was carried out.
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

// tell sends an event, behind the replies that wait.
func (v *Jig) tell(l *line, wire []byte) {
	n := len(v.late.waiting)
	if n == 0 {
		v.send(l, wire)
		return
	}
	v.late.waiting = append(v.late.waiting, delayed{due: v.late.waiting[n-1].due, line: l, wire: wire})
}

// buildWaiting makes the frames that wait, so that the statuses on the line are in
// the order of their times: it comes before the status of any other frame.
func (v *Jig) buildWaiting() {
	for i := range v.late.waiting {
		if d := &v.late.waiting[i]; d.build != nil {
			d.wire, d.build = d.build(), nil
		}
	}
}

// sendDue sends what is due in this frame.
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

// forget drops the frames that wait: a board that starts or hangs sends them no more.
func (v *Jig) forget() { v.late.waiting = nil }

// Due returns the frame of the jig's clock at which the first of the delayed
// replies will be sent, and whether one waits.
func (v *Jig) Due() (frame int64, waiting bool) {
	v.mu.Lock()
	defer v.mu.Unlock()
	if len(v.late.waiting) == 0 {
		return 0, false
	}
	return v.late.waiting[0].due, true
}

// Taken returns how many bytes the jig has taken from its lines since it was made.
// They are counted when their requests have been carried out and the replies sent
// or, if they are delayed, are those of Due.
func (v *Jig) Taken() int64 {
	v.mu.Lock()
	defer v.mu.Unlock()
	return v.taken
}

// Sent returns how many bytes the jig has handed over to be written to its lines
// since it was made: those that its host receives. What a full queue drops does
// not count.
func (v *Jig) Sent() int64 {
	v.mu.Lock()
	defer v.mu.Unlock()
	return v.sent
}

// noise is what spoils the bytes in one direction of the line.
type noise struct {
	wrong float64
	draw  *rand.Rand
}

// spoil replaces or drops bytes, in place. Each byte has draws of its own, so that
// it makes no difference how bytes are cut into pieces.
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
