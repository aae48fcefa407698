package jigtest

import (
	"bytes"
	"testing"

	protocol "headtrue/firmware-protocol"
)

func checkGreeting(t *testing.T, r *rig) {
	s, g := r.Greet()
	if g.Major != protocol.Major || g.Firmware == "" || g.SilenceMillis != protocol.SilenceMillis {
		t.Errorf("greeting %+v", g)
	}
	if g.MicrostepsPerMotorTurn == 0 || g.MaxSpeed == 0 || g.Accel == 0 || g.StartStop == 0 {
		t.Errorf("greeting with limits that say nothing: %+v", g)
	}
	if s.Moving() || s.Energised() {
		t.Errorf("a jig that was just greeted moves or is energised: %+v", s)
	}
}

func checkVersion(t *testing.T, r *rig) {
	reply, body := r.Reply(r.Send(protocol.TypeHello, protocol.Hello{Major: protocol.Major + 1}.Append(nil)))
	if reply.Code != protocol.BadVersion {
		t.Errorf("a host of major %d got %q; want %q", protocol.Major+1, reply.Code, protocol.BadVersion)
	}
	if _, g, err := protocol.ParseGreeting(body); err != nil || g.Major != protocol.Major || g.Minor != protocol.Minor {
		t.Errorf("the refusal names version %d.%d, %v; want %d.%d", g.Major, g.Minor, err, protocol.Major, protocol.Minor)
	}
}

// checkNewerMinor: bytes that a newer minor adds at the end of a body are ignored.
func checkNewerMinor(_ *testing.T, r *rig) {
	r.Must(protocol.TypeHello, []byte{protocol.Major, protocol.Minor + 1, 0xAA, 0xBB})
	r.Must(protocol.TypeSetWindow, append(protocol.Window{Lo: -5, Hi: 5}.Append(nil), 0xCC))
	r.Refuse(protocol.UnknownType, 0x3F, []byte{1, 2, 3})
}

func checkMalformed(_ *testing.T, r *rig) {
	for _, kind := range []protocol.Type{
		protocol.TypeHello, protocol.TypeMove, protocol.TypeStop, protocol.TypeEnergise,
		protocol.TypeSetWindow, protocol.TypeDeclare,
	} {
		r.Refuse(protocol.Malformed, kind, nil)
	}
	r.Refuse(protocol.Malformed, protocol.TypeMove, []byte{1, 2, 3, 4, 5})
}

// checkResync: an unreadable frame gets no answer. After the next zero it has no further
// effect: the next reply is the one to the next request.
func checkResync(t *testing.T, r *rig) {
	status := func() []byte { return protocol.Frame{Type: protocol.TypeStatus, Seq: 200}.Append(nil) }
	spoilt := status()
	spoilt[2] ^= 0x10
	notARequest := protocol.Frame{Type: protocol.TypeStatus | protocol.ReplyBit, Seq: 200}.Append(nil)
	for _, c := range []struct {
		name string
		wire []byte
	}{
		{"lone zeros", []byte{0, 0, 0}},
		{"cut frame", append(status()[:3], 0)},
		{"spoilt checksum", spoilt},
		{"bad stuffing", []byte{9, 1, 2, 0}},
		{"too short", []byte{2, 2, 0}},
		{"reply from the host", notARequest},
		{"event from the host", protocol.Frame{Type: protocol.TypeEvent, Seq: 200}.Append(nil)},
	} {
		r.Raw(c.wire)
		if s := r.Status(); len(r.Events) != 0 {
			t.Errorf("%s: events %+v, %+v", c.name, r.Events, s)
		}
	}
}

func checkLongGarbage(_ *testing.T, r *rig) {
	r.Raw(append(bytes.Repeat([]byte{0x55}, 40*protocol.MaxWire), 0))
	r.Status()
	longest := protocol.Frame{Type: protocol.TypeStatus, Seq: 100, Body: bytes.Repeat([]byte{1}, protocol.MaxPayload-4)}
	r.Raw(longest.Append(nil))
	r.Reply(longest)
	tooLong := protocol.Frame{Type: protocol.TypeStatus, Seq: 101, Body: bytes.Repeat([]byte{1}, protocol.MaxPayload-3)}
	r.Raw(tooLong.Append(nil))
	r.Status()
}

func checkRepeated(t *testing.T, r *rig) {
	before := r.Status().Epoch
	f := r.Send(protocol.TypeDeclare, protocol.Declare{Position: 7}.Append(nil))
	r.Reply(f)
	r.Raw(f.Append(nil))
	again, _ := r.Reply(f)
	if again.Code != protocol.OK || again.Status.Epoch != before+1 || again.Status.Position != 7 {
		t.Errorf("a repeated declaration: %q, epoch %d, position %d; want ok, %d, 7",
			again.Code, again.Status.Epoch, again.Status.Position, before+1)
	}
	// A repeated request gets the same refusal.
	f = r.Send(protocol.TypeMove, protocol.Move{Target: 100, Speed: protocol.FullSpeed}.Append(nil))
	first, _ := r.Reply(f)
	r.Raw(f.Append(nil))
	second, _ := r.Reply(f)
	if first.Code != protocol.NotEnergised || second.Code != first.Code {
		t.Errorf("a repeated refusal: %q, then %q; want %q twice", first.Code, second.Code, protocol.NotEnergised)
	}
	// A greeting begins a session, with new sequence numbers.
	r.Greet()
	r.Raw(protocol.Frame{Type: protocol.TypeDeclare, Seq: f.Seq - 1, Body: protocol.Declare{Position: 7}.Append(nil)}.Append(nil))
	anew, _ := r.Reply(protocol.Frame{Type: protocol.TypeDeclare, Seq: f.Seq - 1})
	if anew.Status.Epoch != before+2 {
		t.Errorf("the number of an earlier session was recognised: epoch %d; want %d", anew.Status.Epoch, before+2)
	}
}

func checkReopened(t *testing.T, r *rig) {
	s := r.energised()
	r.move(r.way(0.1))
	r.await()
	_ = r.line.Close()
	again := &rig{Client: NewClient(t, r.board.Open()), board: r.board}
	after, g := again.Greet()
	again.g = g
	if r.board.ResetsOnOpen != (after.Boot == s.Boot+1) {
		t.Errorf("boot count %d after the line was opened again, %d before; resets on opening: %v",
			after.Boot, s.Boot, r.board.ResetsOnOpen)
	}
	if after.Position != r.way(0.1) || after.Memory != protocol.Kept || after.Epoch != s.Epoch {
		t.Errorf("position %d %s epoch %d after the line was opened again; want %d kept %d",
			after.Position, after.Memory, after.Epoch, r.way(0.1), s.Epoch)
	}
}
