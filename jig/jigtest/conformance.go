package jigtest

import (
	"io"
	"math"
	"testing"
	"time"

	protocol "headtrue/firmware-protocol"
)

// Board is one jig under test. It stands, and is free to make two turns of its motor in
// both directions.
type Board struct {
	// Open opens the line anew.
	Open func() io.ReadWriteCloser
	// Pass lets the jig's time pass.
	Pass func(time.Duration)
	// Reset restarts the jig; PowerLoss interrupts its supply.
	Reset, PowerLoss func()
	// PressStop holds or releases the stop input.
	PressStop func(held bool)
	// CutSupply cuts the motor's supply, or gives it back.
	CutSupply func(cut bool)
	// ResetsOnOpen is true if opening the line restarts the jig.
	ResetsOnOpen bool
}

// rig is a board with a client. A check that moves first calls energised.
type rig struct {
	*Client
	board Board
	g     protocol.Greeting
}

// Conformance checks that a jig follows LINK.md. Each check gets its own board from
// fresh.
func Conformance(t *testing.T, fresh func(t *testing.T) Board) {
	for _, check := range checks {
		t.Run(check.name, func(t *testing.T) {
			b := fresh(t)
			r := &rig{Client: NewClient(t, b.Open()), board: b}
			_, r.g = r.Greet()
			check.run(t, r)
		})
	}
}

var checks = []struct {
	name string
	run  func(*testing.T, *rig)
}{
	{"greeting", checkGreeting},
	{"version", checkVersion},
	{"newer minor", checkNewerMinor},
	{"malformed", checkMalformed},
	{"resynchronisation", checkResync},
	{"long garbage", checkLongGarbage},
	{"refusals", checkRefusals},
	{"refusals in motion", checkRefusalsInMotion},
	{"move", checkMove},
	{"move time", checkMoveTime},
	{"move of nothing", checkMoveOfNothing},
	{"speed limit", checkSpeedLimit},
	{"first step", checkFirstStep},
	{"first step is of the last move", checkFirstStepOfTheLastMove},
	{"repeated request", checkRepeated},
	{"move repeated after stop", checkMoveAfterStop},
	{"copy of a move after stop and status", checkLateCopy},
	{"speed 0", checkSpeedZero},
	{"ramped stop", checkRampedStop},
	{"abrupt stop", checkAbruptStop},
	{"silence", checkSilence},
	{"stop during a ramp", checkStopDuringRamp},
	{"polls keep it turning", checkPolls},
	{"declare", checkDeclare},
	{"reset standing", checkResetStanding},
	{"reset in motion", checkResetInMotion},
	{"power loss", checkPowerLoss},
	{"closed window", checkClosedWindow},
	{"forgotten", checkForgotten},
	{"stop input", checkStopInput},
	{"settings", checkSettings},
	{"declared microsteps", checkDeclaredMicrosteps},
	{"inputs that are not fitted", checkUnfitted},
	{"motor supply", checkSupply},
	{"reopened", checkReopened},
}

// tick is the time between two polls.
const tick = 20 * time.Millisecond

// writing is the longest time that a jig may take to write to its memory.
const writing = 100 * time.Millisecond

// energised declares position 0, opens the window and switches the motor on.
func (r *rig) energised() protocol.Status {
	r.t.Helper()
	r.Must(protocol.TypeDeclare, protocol.Declare{}.Append(nil))
	r.Must(protocol.TypeSetWindow, protocol.Window{Lo: r.way(-20), Hi: r.way(20)}.Append(nil))
	return r.Must(protocol.TypeEnergise, protocol.Energise{On: true}.Append(nil))
}

// way converts turns of the motor to microsteps.
func (r *rig) way(turns float64) int32 {
	return int32(math.Round(turns * float64(r.g.MicrostepsPerMotorTurn)))
}

func (r *rig) move(target int32) protocol.Status {
	r.t.Helper()
	s := r.Must(protocol.TypeMove, protocol.Move{Target: target, Speed: protocol.FullSpeed}.Append(nil))
	if !s.Moving() && s.Position != target || s.Target != target {
		r.t.Fatalf("move to %d was taken, status %+v", target, s)
	}
	return s
}

// await polls until the motor stands. It returns the last status and the events until
// then.
func (r *rig) await() (protocol.Status, []protocol.Event) {
	r.t.Helper()
	var events []protocol.Event
	for range 1000 {
		r.board.Pass(tick)
		s := r.Status()
		events = append(events, r.Events...)
		if !s.Moving() {
			return s, events
		}
	}
	r.t.Fatalf("still moving after %v", 1000*tick)
	return protocol.Status{}, nil
}

// underway polls until the motor turns faster than its start-stop rate.
func (r *rig) underway() protocol.Status {
	r.t.Helper()
	ramp := float64(r.g.MaxSpeed) / float64(r.g.Accel)
	r.board.Pass(writing + time.Duration(ramp*float64(time.Second)))
	s := r.Status()
	if !s.Moving() {
		r.t.Fatalf("not moving after %.2f s: %+v", ramp, s)
	}
	return s
}

// want checks position, memory and reason together.
func (r *rig) want(s protocol.Status, position int32, m protocol.Memory, reason protocol.StopReason) {
	r.t.Helper()
	if s.Position != position || s.Memory != m || s.Reason != reason {
		r.t.Errorf("position %d %s, last stop %q; want %d %s, %q", s.Position, s.Memory, s.Reason, position, m, reason)
	}
}

func (r *rig) wantEvent(events []protocol.Event, kind protocol.EventKind) {
	r.t.Helper()
	if len(events) != 1 || events[0].Kind != kind || events[0].Status.Moving() {
		r.t.Errorf("events %+v; want one %q, standing", events, kind)
	}
}
