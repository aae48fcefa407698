package jigtest

import (
	"testing"

	protocol "headtrue/firmware-protocol"
)

// settings asks for the settings.
func (r *rig) settings() protocol.StoredSettings {
	r.t.Helper()
	return r.settingsReply(protocol.OK, r.Send(protocol.TypeSettings, nil))
}

func (r *rig) settingsReply(code protocol.Code, f protocol.Frame) protocol.StoredSettings {
	r.t.Helper()
	_, body := r.Reply(f)
	reply, s, err := protocol.ParseSettingsReply(body)
	if err != nil || reply.Code != code {
		r.t.Fatalf("%s: %q, %v; want %q", f, reply.Code, err, code)
	}
	return s
}

// configure stores settings and waits until they are written.
func (r *rig) configure(s protocol.Settings) {
	r.t.Helper()
	got := r.settingsReply(protocol.OK, r.Send(protocol.TypeConfigure, s.Append(nil)))
	if got.Settings != s {
		r.t.Errorf("settings %s after configuring %s", got, s)
	}
	r.board.Pass(2 * writing)
	if again := r.settings(); again.Settings != s || !again.Stored {
		r.t.Errorf("settings %s, %v after the time to write; want %s", again, 2*writing, s)
	}
	_, r.g = r.Greet()
}

// checkSettings: they are greeted, survive a reset and a power loss, and are refused with the
// motor on or with a value that means nothing.
func checkSettings(t *testing.T, r *rig) {
	first := r.settings()
	if first.Identity != 0 || !first.Stored || first.Microsteps == 0 {
		t.Errorf("a new jig has settings %s", first)
	}
	s := first.Settings
	s.Identity, s.Fitted, s.CurrentMilliamps = 0xDEC0DE01, protocol.FittedStop|protocol.FittedSupply, 350
	s.MaxSpeed = r.g.MaxSpeed / 2
	r.energised()
	if got := r.settingsReply(protocol.IsEnergised, r.Send(protocol.TypeConfigure, s.Append(nil))); got != first {
		t.Errorf("settings %s after a refusal; want %s", got, first)
	}
	r.move(100)
	r.settingsReply(protocol.IsMoving, r.Send(protocol.TypeConfigure, s.Append(nil)))
	before, _ := r.await()
	r.Must(protocol.TypeEnergise, protocol.Energise{}.Append(nil))
	for name, spoil := range map[string]func(*protocol.Settings){
		"no identity": func(s *protocol.Settings) { s.Identity = 0 }, "unknown input": func(s *protocol.Settings) { s.Fitted |= 64 },
		"3 microsteps": func(s *protocol.Settings) { s.Microsteps = 3 }, "0 microsteps": func(s *protocol.Settings) { s.Microsteps = 0 },
		"too many microsteps": func(s *protocol.Settings) { s.Microsteps *= 8 }, "too fast": func(s *protocol.Settings) { s.MaxSpeed = r.g.MaxSpeed + 1 },
	} {
		bad := s
		spoil(&bad)
		if got := r.settingsReply(protocol.BadValue, r.Send(protocol.TypeConfigure, bad.Append(nil))); got != first {
			t.Errorf("%s: settings %s; want %s", name, got, first)
		}
	}
	r.Refuse(protocol.Malformed, protocol.TypeConfigure, s.Append(nil)[:11])
	r.configure(s)
	r.want(r.Status(), before.Position, protocol.Kept, before.Reason) // neither microsteps nor direction changed
	want := protocol.FeatureStopInput | protocol.FeatureSupplySense
	if r.g.MaxSpeed != s.MaxSpeed || r.g.CurrentMilliamps != 350 || r.g.Features != want {
		t.Errorf("greeting %s; want speed %d, 350 mA, features %04x", r.g, s.MaxSpeed, uint16(want))
	}
	r.board.Reset()
	r.board.PowerLoss()
	if again := r.settings(); again.Settings != s || !again.Stored {
		t.Errorf("settings %s after a reset and a power loss; want %s", again, s)
	}
}

// checkDeclaredMicrosteps: the figures of the greeting hold for the declared microsteps, so
// that a full step is never faster; a change makes the position unknown.
func checkDeclaredMicrosteps(t *testing.T, r *rig) {
	was, s := r.g, r.settings().Settings
	r.energised()
	r.Must(protocol.TypeEnergise, protocol.Energise{}.Append(nil))
	epoch := r.Status().Epoch
	s.Identity, s.Microsteps = 7, s.Microsteps/4
	r.configure(s)
	g := r.g
	if g.MicrostepsPerMotorTurn != was.MicrostepsPerMotorTurn/4 || g.MaxSpeed != was.MaxSpeed/4 || g.Accel != was.Accel/4 || g.StartStop != was.StartStop/4 {
		t.Errorf("with a quarter of the microsteps %s; before %s", g, was)
	}
	st := r.Status()
	r.want(st, 0, protocol.Unknown, protocol.ReasonNone)
	if st.Epoch == epoch || !g.Window.Closed() {
		t.Errorf("epoch %d, before %d, window %s; want another and a closed window", st.Epoch, epoch, g.Window)
	}
	s.Microsteps *= 16 // four times as many as at first
	r.configure(s)
	g = r.g
	if g.MicrostepsPerMotorTurn != was.MicrostepsPerMotorTurn*4 || g.MaxSpeed != was.MaxSpeed || g.Accel != was.Accel*4 || g.StartStop != was.StartStop*4 {
		t.Errorf("with four times the microsteps %s; before %s", g, was)
	}
	r.Must(protocol.TypeDeclare, protocol.Declare{}.Append(nil))
	s.Reversed = true
	r.configure(s)
	r.want(r.Status(), 0, protocol.Unknown, protocol.ReasonNone)
}

// checkUnfitted: an input that is not fitted is ignored.
func checkUnfitted(t *testing.T, r *rig) {
	s := r.settings().Settings
	s.Identity, s.Fitted = 9, 0
	r.configure(s)
	if r.g.Features != 0 {
		t.Errorf("features %04x with nothing fitted", uint16(r.g.Features))
	}
	r.board.PressStop(true)
	r.board.CutSupply(true)
	r.energised()
	r.move(r.way(0.1))
	st, _ := r.await()
	r.want(st, r.way(0.1), protocol.Kept, protocol.ReasonDone)
	if st.Flags&(protocol.FlagStopHeld|protocol.FlagNoSupply) != 0 {
		t.Errorf("%s; want no flag of an input that is not there", st)
	}
}

// checkSupply: a jig that senses its motor's supply switches the motor off when that goes,
// turning or holding; the position is then unknown. While off it only shows it, and does not
// switch on.
func checkSupply(t *testing.T, r *rig) {
	s := r.settings().Settings
	s.Identity, s.Fitted = 11, protocol.FittedStop|protocol.FittedSupply
	r.configure(s)
	missing := func(when string, st protocol.Status) {
		t.Helper()
		if st.Flags&protocol.FlagNoSupply == 0 || st.Energised() {
			t.Errorf("supply cut while %s: %s; want no supply, and off", when, st)
		}
	}
	r.energised()
	r.Must(protocol.TypeEnergise, protocol.Energise{}.Append(nil))
	r.board.CutSupply(true)
	r.board.Pass(tick)
	st := r.Status()
	missing("off", st)
	r.want(st, 0, protocol.Kept, protocol.ReasonNone)
	r.Refuse(protocol.NoSupply, protocol.TypeEnergise, protocol.Energise{On: true}.Append(nil))
	r.board.CutSupply(false)
	r.board.Pass(tick)
	if st := r.energised(); st.Flags&protocol.FlagNoSupply != 0 {
		t.Errorf("the supply is back: %s", st)
	}

	r.board.CutSupply(true)
	r.board.Pass(tick)
	st = r.Status()
	missing("holding", st)
	r.wantEvent(r.Events, protocol.EventFault)
	r.want(st, 0, protocol.Unknown, protocol.ReasonFault)
	r.board.CutSupply(false)
	r.board.Pass(tick)
	if st := r.Status(); st.Energised() {
		t.Errorf("the motor is on again by itself: %s", st)
	}

	r.energised()
	r.move(r.way(0.5))
	turning := r.underway()
	r.board.CutSupply(true)
	r.board.Pass(tick)
	st = r.Status()
	missing("moving", st)
	r.wantEvent(r.Events, protocol.EventFault)
	r.want(st, st.Position, protocol.Unknown, protocol.ReasonFault)
	if st.Moving() || st.Position < turning.Position || st.Position >= r.way(0.5) {
		t.Errorf("the supply went at %d: %s", turning.Position, st)
	}
	r.board.Pass(writing)
	r.board.Reset()
	if st, g := r.Greet(); st.Memory != protocol.Unknown || !g.Window.Closed() {
		t.Errorf("after a reset %s, window %s; want unknown and closed", st, g.Window)
	}
}
