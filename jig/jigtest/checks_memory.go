package jigtest

import (
	"testing"

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
	_, factory := r.Greet()
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
	if g.Window != factory.Window {
		t.Errorf("window %+v after a power loss; want the first, %+v", g.Window, factory.Window)
	}
}
