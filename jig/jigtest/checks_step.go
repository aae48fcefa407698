package jigtest

import (
	"testing"
	"time"

	protocol "headtrue/firmware-protocol"
)

// beside is the tolerance of the reported time of a step against the observed one.
const beside = 50 * time.Microsecond

// checkFirstStep: the flag comes with the first step. The reported time lies between the
// statuses before and after it, and stays to the end of the move.
func checkFirstStep(t *testing.T, r *rig) {
	r.energised()
	for _, target := range []int32{r.way(0.2), 0, -1} {
		s := r.move(target)
		if s.Stepped() {
			t.Errorf("stepped in the reply to the move to %d: %s", target, s)
		}
		first := r.firstStepAfter(s)
		if first.Status.Position == target {
			continue // a single step
		}
		s, events := r.await()
		r.wantEvent(events, protocol.EventDone)
		end := r.FirstStep()
		if !s.Stepped() || end.FirstStepMicros != first.FirstStepMicros ||
			len(events) == 1 && events[0].FirstStepMicros != first.FirstStepMicros {
			t.Errorf("first step of the move to %d: %d us, at the end %d us, events %+v",
				target, first.FirstStepMicros, end.FirstStepMicros, events)
		}
	}
}

// firstStepAfter polls until the move whose reply was s has made a step.
func (r *rig) firstStepAfter(s protocol.Status) protocol.StatusReply {
	r.t.Helper()
	from, before := s.Position, s.Micros
	for range 10 * writing / time.Millisecond {
		r.board.Pass(time.Millisecond)
		now := r.FirstStep()
		if now.Status.Stepped() != (now.Status.Position != from) {
			r.t.Fatalf("a move from %d: %s", from, now.Status)
		}
		if !now.Status.Stepped() {
			before = now.Status.Micros
			continue
		}
		slack := uint32(beside.Microseconds()) // differences are modulo 2^32
		if now.FirstStepMicros-(before-slack) > now.Status.Micros-before+2*slack {
			r.t.Errorf("first step at %d us; none was made at %d us, and one at %d us", now.FirstStepMicros, before, now.Status.Micros)
		}
		return now
	}
	r.t.Fatalf("no step after %v", 10*writing)
	return protocol.StatusReply{}
}

// checkFirstStepOfTheLastMove: a move without a step clears the flag, a refused move
// leaves it, and replies to other requests have the flag without the time.
func checkFirstStepOfTheLastMove(t *testing.T, r *rig) {
	want := func(when string, s protocol.Status, stepped bool) {
		t.Helper()
		if s.Stepped() != stepped {
			t.Errorf("%s: %s; stepped wanted: %v", when, s, stepped)
		}
	}
	want("before any move", r.energised(), false)
	r.move(r.way(0.5))
	first := r.underway()
	want("under way", first, true)
	stop, body := r.Reply(r.Send(protocol.TypeStop, protocol.Stop{}.Append(nil)))
	want("at a stop", stop.Status, true)
	if longest := len(stop.Append(nil)); len(body) != longest {
		t.Errorf("the reply to a stop has a body of %d bytes; want %d", len(body), longest)
	}
	s, _ := r.await()
	at := r.FirstStep().FirstStepMicros
	outside := protocol.Move{Target: r.way(1), Speed: protocol.FullSpeed}.Append(nil)
	r.Must(protocol.TypeSetWindow, protocol.Window{Lo: -1, Hi: s.Position}.Append(nil))
	want("after a move that was refused", r.Refuse(protocol.OutsideWindow, protocol.TypeMove, outside), true)
	want("after a declaration", r.Must(protocol.TypeDeclare, protocol.Declare{}.Append(nil)), true)
	if again := r.FirstStep().FirstStepMicros; again != at {
		t.Errorf("first step at %d us, later told as %d us", at, again)
	}
	want("after a move of nothing", r.move(0), false)
	r.move(-1)
	s = r.Must(protocol.TypeStop, protocol.Stop{Abrupt: true}.Append(nil)) // on most boards before the first step
	want("after a move that was stopped at once", s, s.Position != 0)
	r.Must(protocol.TypeDeclare, protocol.Declare{}.Append(nil))
	want("after a move of one step", r.stepped(-1), true)
	r.board.Reset()
	want("after a start", r.Status(), false)
}

// stepped makes a move and returns the status after its first step.
func (r *rig) stepped(target int32) protocol.Status {
	r.t.Helper()
	return r.firstStepAfter(r.move(target)).Status
}
