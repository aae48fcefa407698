package jigtest

import (
	"math"
	"testing"
	"time"

	protocol "headtrue/firmware-protocol"
)

func checkDeclare(t *testing.T, r *rig) {
	before := r.Status()
	s := r.Must(protocol.TypeDeclare, protocol.Declare{Position: -1234}.Append(nil))
	r.want(s, -1234, protocol.Kept, before.Reason)
	if s.Epoch != before.Epoch+1 || s.Target != -1234 {
		t.Errorf("epoch %d, target %d after a declaration; want %d, -1234", s.Epoch, s.Target, before.Epoch+1)
	}
}

func checkResetStanding(t *testing.T, r *rig) {
	r.energised()
	r.Must(protocol.TypeSetWindow, protocol.Window{Lo: -2000, Hi: 2000}.Append(nil))
	r.move(r.way(0.1))
	before, _ := r.await()
	r.board.Reset()
	s, g := r.Greet()
	if s.Boot != before.Boot+1 || s.Epoch != before.Epoch || s.Energised() || s.Moving() {
		t.Errorf("after a reset %+v; before %+v", s, before)
	}
	r.want(s, r.way(0.1), protocol.Kept, protocol.ReasonNone)
	if g.Window != (protocol.Window{Lo: -2000, Hi: 2000}) {
		t.Errorf("window %+v after a reset; want -2000 to 2000", g.Window)
	}
	if s.Cause == protocol.CausePower {
		t.Errorf("cause %q after a reset with the supply on", s.Cause)
	}
}

func checkResetInMotion(t *testing.T, r *rig) {
	r.energised()
	r.move(r.way(0.5))
	before := r.underway()
	r.board.Reset()
	s := r.Status()
	if s.Boot != before.Boot+1 || s.Epoch != before.Epoch || s.Energised() || s.Moving() {
		t.Errorf("after a reset %+v; before %+v", s, before)
	}
	r.want(s, s.Position, protocol.Doubtful, protocol.ReasonReset)
	r.board.Reset()
	r.want(r.Status(), s.Position, protocol.Doubtful, protocol.ReasonNone)
}

func checkPowerLoss(t *testing.T, r *rig) {
	r.energised()
	r.Must(protocol.TypeSetWindow, protocol.Window{Lo: -200, Hi: 200}.Append(nil))
	r.move(100)
	before, _ := r.await()
	r.board.Pass(writing)
	r.board.PowerLoss()
	s, g := r.Greet()
	if s.Boot != before.Boot+1 || s.Epoch != before.Epoch+1 || s.Cause != protocol.CausePower {
		t.Errorf("after a power loss %+v; before %+v", s, before)
	}
	r.want(s, 0, protocol.Unknown, protocol.ReasonNone)
	if !g.Window.Closed() {
		t.Errorf("window %+v after a power loss; want it closed", g.Window)
	}
}

// checkClosedWindow: every move is refused until the host has opened the window, even a
// move to the present position. A declaration does not open it.
func checkClosedWindow(t *testing.T, r *rig) {
	for _, when := range []string{"the first start", "a power loss"} {
		if _, g := r.Greet(); g.Window != protocol.ClosedWindow {
			t.Errorf("window %+v after %s; want %+v", g.Window, when, protocol.ClosedWindow)
		}
		r.Must(protocol.TypeEnergise, protocol.Energise{On: true}.Append(nil))
		r.Refuse(protocol.OutsideWindow, protocol.TypeMove, protocol.Move{Speed: protocol.FullSpeed}.Append(nil))
		r.Must(protocol.TypeDeclare, protocol.Declare{Position: 500}.Append(nil))
		for _, target := range []int32{500, 1, 0, -1, math.MaxInt32, math.MinInt32} {
			r.Refuse(protocol.OutsideWindow, protocol.TypeMove, protocol.Move{Target: target, Speed: protocol.FullSpeed}.Append(nil))
		}
		r.Must(protocol.TypeSetWindow, protocol.Window{Lo: 400, Hi: 600}.Append(nil))
		r.move(450)
		r.await()
		r.board.Pass(writing)
		r.board.PowerLoss()
	}
}

// checkForgotten: a holding motor is switched off after ten minutes without a frame from
// the host, and the position stays kept.
func checkForgotten(t *testing.T, r *rig) {
	r.energised()
	r.board.Pass(time.Minute)
	if s := r.Status(); !s.Energised() {
		t.Errorf("after a minute: %s; want it still to hold", s)
	}
	r.board.Pass((protocol.HoldSeconds + 1) * time.Second)
	s := r.Status()
	if s.Energised() {
		t.Errorf("after %d s without a frame: %s; want the motor off", protocol.HoldSeconds+1, s)
	}
	r.want(s, 0, protocol.Kept, protocol.ReasonNone)
	r.Refuse(protocol.NotEnergised, protocol.TypeMove, protocol.Move{Target: 10, Speed: protocol.FullSpeed}.Append(nil))
	r.Must(protocol.TypeEnergise, protocol.Energise{On: true}.Append(nil))
	r.move(10)
	s, _ = r.await()
	r.want(s, 10, protocol.Kept, protocol.ReasonDone)
}
