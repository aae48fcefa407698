package jigtest

import (
	"math"
	"testing"
	"time"

	protocol "headtrue/firmware-protocol"
)

func checkRefusals(t *testing.T, r *rig) {
	r.Refuse(protocol.NotEnergised, protocol.TypeMove, protocol.Move{Target: 10, Speed: protocol.FullSpeed}.Append(nil))
	r.energised()
	r.Must(protocol.TypeSetWindow, protocol.Window{Lo: -100, Hi: 100}.Append(nil))
	for _, target := range []int32{101, -101, math.MaxInt32, math.MinInt32} {
		s := r.Refuse(protocol.OutsideWindow, protocol.TypeMove, protocol.Move{Target: target, Speed: protocol.FullSpeed}.Append(nil))
		if s.Moving() || s.Position != 0 {
			t.Errorf("target %d was refused, and yet %+v", target, s)
		}
	}
	r.move(100) // the end belongs to the window
	r.await()
	r.Refuse(protocol.BadValue, protocol.TypeSetWindow, protocol.Window{Lo: 1, Hi: 0}.Append(nil))
	if _, g := r.Greet(); g.Window != (protocol.Window{Lo: -100, Hi: 100}) {
		t.Errorf("window %+v after a refused one; want -100 to 100", g.Window)
	}
}

func checkRefusalsInMotion(t *testing.T, r *rig) {
	r.energised()
	r.move(r.way(0.5))
	r.underway()
	for kind, body := range map[protocol.Type][]byte{
		protocol.TypeMove:      protocol.Move{Speed: protocol.FullSpeed}.Append(nil),
		protocol.TypeEnergise:  protocol.Energise{}.Append(nil),
		protocol.TypeSetWindow: protocol.Window{Lo: -1, Hi: 1}.Append(nil),
		protocol.TypeDeclare:   protocol.Declare{}.Append(nil),
	} {
		if s := r.Refuse(protocol.IsMoving, kind, body); !s.Moving() {
			t.Errorf("refused request %02x stopped the motor", kind)
		}
	}
	s, _ := r.await()
	r.want(s, r.way(0.5), protocol.Kept, protocol.ReasonDone)
}

func checkMove(_ *testing.T, r *rig) {
	r.energised()
	for _, turns := range []float64{0.3, -0.2, -0.2 + 1/3200.0, 0} {
		target := r.way(turns)
		r.move(target)
		s, events := r.await()
		r.want(s, target, protocol.Kept, protocol.ReasonDone)
		r.wantEvent(events, protocol.EventDone)
	}
}

// checkMoveTime: a trapezoid of the declared speed and acceleration takes distance/speed
// + speed/accel. A first speed at the start-stop rate shortens it; a write to the memory
// may come before it.
func checkMoveTime(t *testing.T, r *rig) {
	r.energised()
	speed, accel, way := float64(r.g.MaxSpeed), float64(r.g.Accel), float64(r.way(0.5))
	begin := r.move(r.way(0.5)).Micros
	_, events := r.await()
	r.wantEvent(events, protocol.EventDone)
	took := float64(events[0].Status.Micros-begin) / 1e6
	longest := way/speed + speed/accel
	shortest := way / speed
	if took < 0.98*shortest || took > 1.02*longest+writing.Seconds() {
		t.Errorf("a move of %v microsteps took %.4f s; want %.4f to %.4f", way, took, shortest, longest+writing.Seconds())
	}
}

// A move to the present position is done with the reply, without event.
func checkMoveOfNothing(t *testing.T, r *rig) {
	r.energised()
	r.want(r.move(0), 0, protocol.Kept, protocol.ReasonDone)
	if events := r.Events; len(events) != 0 {
		t.Errorf("events %+v; want none", events)
	}
	if _, events := r.await(); len(events) != 0 {
		t.Errorf("events %+v; want none", events)
	}
}

// checkSpeedLimit: a speed above the declared one is accepted but not reached.
func checkSpeedLimit(t *testing.T, r *rig) {
	r.energised()
	begin := r.Must(protocol.TypeMove, protocol.Move{Target: r.way(0.5), Speed: math.MaxUint16}.Append(nil))
	_, events := r.await()
	r.wantEvent(events, protocol.EventDone)
	took := float64(events[0].Status.Micros-begin.Micros) / 1e6
	if shortest := float64(r.way(0.5)) / float64(r.g.MaxSpeed); took < 0.98*shortest {
		t.Errorf("took %.4f s; at its greatest speed it takes %.4f", took, shortest)
	}
	slow := r.g.MaxSpeed / 4
	begin = r.Must(protocol.TypeMove, protocol.Move{Target: 0, Speed: slow}.Append(nil))
	_, events = r.await()
	r.wantEvent(events, protocol.EventDone)
	took = float64(events[0].Status.Micros-begin.Micros) / 1e6
	if shortest := float64(r.way(0.5)) / float64(slow); took < 0.98*shortest {
		t.Errorf("at a quarter of the speed it took %.4f s, less than %.4f", took, shortest)
	}
}

// checkMoveAfterStop: a host has one request outstanding, so only a stop can come between
// a move and its repeat. The repeat must not begin the move again.
func checkMoveAfterStop(t *testing.T, r *rig) {
	r.energised()
	f := r.Send(protocol.TypeMove, protocol.Move{Target: r.way(0.5), Speed: protocol.FullSpeed}.Append(nil))
	r.Reply(f)
	r.board.Pass(tick)
	r.Must(protocol.TypeStop, protocol.Stop{Abrupt: true}.Append(nil))
	r.Raw(f.Append(nil))
	if reply, _ := r.Reply(f); reply.Status.Moving() {
		t.Errorf("a move repeated after a stop began again: %+v", reply)
	}
}

// checkLateCopy: whatever came since, a copy of a move that was sent before the last stop
// turns nothing. A new move does.
func checkLateCopy(t *testing.T, r *rig) {
	r.energised()
	f := r.Send(protocol.TypeMove, protocol.Move{Target: r.way(0.5), Speed: protocol.FullSpeed}.Append(nil))
	r.Reply(f)
	r.board.Pass(tick)
	r.Must(protocol.TypeStop, protocol.Stop{Abrupt: true}.Append(nil))
	late := func(after string, code protocol.Code) {
		t.Helper()
		r.Raw(f.Append(nil))
		if reply, _ := r.Reply(f); reply.Code != code || reply.Status.Moving() {
			t.Errorf("copy of a move after a stop and %s: %q, %s; want %q and standing", after, reply.Code, reply.Status, code)
		}
	}
	r.Status()
	late("a status", protocol.OK)
	r.Ask(protocol.TypeInspect, nil)
	late("an inspection", protocol.OK)
	r.Must(protocol.TypeEnergise, protocol.Energise{On: true}.Append(nil))
	late("a request with an effect", protocol.BadValue)
	r.move(0)
	r.await()
	for range 300 { // numbers go round: later moves are not taken for copies
		r.Status()
	}
	r.move(10)
	r.await()
}

// checkSpeedZero: a host of this link must name a speed; one of 1.3 need not.
func checkSpeedZero(_ *testing.T, r *rig) {
	r.energised()
	r.Refuse(protocol.BadValue, protocol.TypeMove, protocol.Move{Target: 10}.Append(nil))
	r.Must(protocol.TypeHello, protocol.Hello{Major: protocol.Major, Minor: 3}.Append(nil))
	r.Must(protocol.TypeMove, protocol.Move{Target: 10}.Append(nil))
	s, _ := r.await()
	r.want(s, 10, protocol.Kept, protocol.ReasonDone)
}

func checkRampedStop(t *testing.T, r *rig) {
	r.energised()
	r.move(r.way(0.5))
	r.underway()
	before := r.Must(protocol.TypeStop, protocol.Stop{}.Append(nil))
	s, events := r.await()
	if len(events) != 0 {
		t.Errorf("events %+v after a stop that was ordered; want none", events)
	}
	speed, accel := float64(r.g.MaxSpeed), float64(r.g.Accel)
	braking := int32(math.Ceil(speed*speed/(2*accel))) + 2
	if way := s.Position - before.Position; way < 0 || way > braking {
		t.Errorf("ran on by %d microsteps; at most %d are needed", way, braking)
	}
	r.want(s, s.Position, protocol.Kept, protocol.ReasonOrder)
	r.move(0) // and it can go back
	s, _ = r.await()
	r.want(s, 0, protocol.Kept, protocol.ReasonDone)
}

func checkAbruptStop(t *testing.T, r *rig) {
	r.energised()
	r.Must(protocol.TypeMove, protocol.Move{Target: r.way(0.5), Speed: r.g.StartStop / 2}.Append(nil))
	r.underway()
	s := r.Must(protocol.TypeStop, protocol.Stop{Abrupt: true}.Append(nil))
	if s.Moving() {
		t.Fatalf("still moving after an abrupt stop: %+v", s)
	}
	r.want(s, s.Position, protocol.Kept, protocol.ReasonOrder)
	if r.g.MaxSpeed <= r.g.StartStop {
		return // this jig can stop abruptly from any speed
	}
	r.move(-r.way(0.5))
	r.underway()
	s = r.Must(protocol.TypeStop, protocol.Stop{Abrupt: true}.Append(nil))
	r.want(s, s.Position, protocol.Doubtful, protocol.ReasonOrder)
}

func checkSilence(t *testing.T, r *rig) {
	r.energised()
	slow := uint16(float64(r.way(0.5)) / 2.5) // 2.5 s for the move
	r.Must(protocol.TypeMove, protocol.Move{Target: r.way(0.5), Speed: slow}.Append(nil))
	r.board.Pass(1500 * time.Millisecond)
	s := r.Status()
	if s.Moving() {
		t.Fatalf("still moving after 1.5 s of silence: %+v", s)
	}
	r.want(s, s.Position, protocol.Kept, protocol.ReasonSilence)
	r.wantEvent(r.Events, protocol.EventSilence)
	made := float64(slow) * (protocol.SilenceMillis / 1000.0)
	if p := float64(s.Position); p < 0.8*made || p > 1.2*made+float64(slow)*float64(slow)/float64(r.g.Accel) {
		t.Errorf("stopped after %v microsteps; %d ms of silence make about %v", p, protocol.SilenceMillis, made)
	}
}

// The reason that began a ramp stays, whatever comes during the ramp.
func checkStopDuringRamp(_ *testing.T, r *rig) {
	r.energised()
	r.Must(protocol.TypeSetWindow, protocol.Window{Lo: math.MinInt32, Hi: math.MaxInt32}.Append(nil))
	r.move(r.way(2)) // it stops long before
	ramp := time.Duration(float64(r.g.MaxSpeed) / float64(r.g.Accel) * float64(time.Second))
	const silence = protocol.SilenceMillis * time.Millisecond
	r.board.Pass(max(silence-ramp, silence*4/5) + ramp/2)
	r.Must(protocol.TypeStop, protocol.Stop{}.Append(nil))
	events := r.Events
	s, more := r.await()
	r.want(s, s.Position, protocol.Kept, protocol.ReasonSilence)
	r.wantEvent(append(events, more...), protocol.EventSilence)
}

func checkPolls(_ *testing.T, r *rig) {
	r.energised()
	slow := uint16(float64(r.way(0.5)) / 2.5)
	r.Must(protocol.TypeMove, protocol.Move{Target: r.way(0.5), Speed: slow}.Append(nil))
	for range 8 {
		r.board.Pass(protocol.SilenceMillis * time.Millisecond * 4 / 5)
		r.Status()
	}
	r.want(r.Status(), r.way(0.5), protocol.Kept, protocol.ReasonDone)
}

func checkStopInput(_ *testing.T, r *rig) {
	if r.g.Features&protocol.FeatureStopInput == 0 {
		return // by its greeting it has none
	}
	r.energised()
	r.move(r.way(0.5))
	r.underway()
	r.board.PressStop(true)
	s := r.Status()
	r.wantEvent(r.Events, protocol.EventStopInput)
	r.want(s, s.Position, s.Memory, protocol.ReasonStopInput)
	r.Refuse(protocol.StopHeld, protocol.TypeMove, protocol.Move{Target: 0, Speed: protocol.FullSpeed}.Append(nil))
	if s := r.Refuse(protocol.StopHeld, protocol.TypeEnergise, protocol.Energise{On: true}.Append(nil)); !s.Energised() {
		r.t.Errorf("a refused order to switch on has switched the motor off: %s", s)
	}
	r.Must(protocol.TypeEnergise, protocol.Energise{}.Append(nil))
	if s := r.Refuse(protocol.StopHeld, protocol.TypeEnergise, protocol.Energise{On: true}.Append(nil)); s.Energised() {
		r.t.Errorf("energised while the stop input is held: %s", s)
	}
	r.board.PressStop(false)
	r.Must(protocol.TypeEnergise, protocol.Energise{On: true}.Append(nil))
	r.move(0)
	s, _ = r.await()
	r.want(s, 0, s.Memory, protocol.ReasonDone)
}
