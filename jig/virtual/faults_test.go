package virtual_test

import (
	"slices"
	"testing"

	protocol "headtrue/firmware-protocol"
	"headtrue/jig/virtual"
)

// The effect of each fault on a move of 1600 microsteps, seen by a bare host after 600 of
// them, and on the shaft.
func TestFaultsInMotion(t *testing.T) {
	const at = 600
	for _, c := range []struct {
		kind          string
		reason        protocol.StopReason
		memory        protocol.Memory
		boots, epochs uint16
		energised     bool
		position      int32
		shaft         float64
	}{
		{virtual.FaultReset, protocol.ReasonReset, protocol.Doubtful, 1, 0, false, at, at},
		{virtual.FaultPowerLoss, protocol.ReasonReset, protocol.Unknown, 1, 1, false, 0, at},
		{virtual.FaultStopInput, protocol.ReasonStopInput, protocol.Doubtful, 0, 0, true, at, at + 64},
		{virtual.FaultLimit, protocol.ReasonLimit, protocol.Doubtful, 0, 0, true, at, at + 64},
		{virtual.FaultStall, protocol.ReasonStall, protocol.Doubtful, 0, 0, true, at, at},
		{virtual.FaultDriver, protocol.ReasonFault, protocol.Doubtful, 0, 0, false, at, at},
		{virtual.FaultLostSteps, protocol.ReasonDone, protocol.Kept, 0, 0, true, 1600, 1600 - 64},
	} {
		v := virtual.New(virtual.Options{Faults: []virtual.Fault{{Kind: c.kind, AtStep: at}}})
		host := energised(t, v)
		before := host.Status()
		move(host, 1600)
		var events []protocol.Event
		var s protocol.Status
		for range 20 {
			v.Advance(4800)
			s = host.Status()
			events = append(events, host.Events...)
		}
		if s.Reason != c.reason || s.Memory != c.memory || s.Boot != before.Boot+c.boots ||
			s.Epoch != before.Epoch+c.epochs || s.Energised() != c.energised || s.Position != c.position {
			t.Errorf("%s: %s\nbefore: %s", c.kind, s, before)
		}
		if got := v.Shaft(); got.Microsteps != c.shaft || got.Energised != c.energised || got.Moving {
			t.Errorf("%s: shaft %+v; want %v", c.kind, got, c.shaft)
		}
		if c.boots == 0 && (len(events) != 1 || events[0].Kind != protocol.EventKind(c.reason)) {
			t.Errorf("%s: events %+v; want one %s", c.kind, events, c.reason)
		}
	}
}

// A fault at a time comes at its frame, also while standing, and only once.
func TestFaultAtSeconds(t *testing.T) {
	v := virtual.New(virtual.Options{Faults: []virtual.Fault{{Kind: virtual.FaultReset, AtSeconds: 0.5}}})
	c := energised(t, v)
	boot := c.Status().Boot
	v.Advance(rate/2 - 1)
	if got := c.Status().Boot; got != boot {
		t.Errorf("reset came early: boot %d", got)
	}
	v.Advance(1)
	if got := c.Status(); got.Boot != boot+1 || got.Memory != protocol.Kept || got.Micros != 0 {
		t.Errorf("after 0.5 s %s; want boot %d, kept, time 0", got, boot+1)
	}
	v.Advance(rate)
	if got := c.Status().Boot; got != boot+1 {
		t.Errorf("reset came twice: boot %d", got)
	}
}

// The shaft keeps its position although the count is lost.
func TestShaftSurvivesPowerLoss(t *testing.T) {
	v := virtual.New(virtual.Options{})
	c := energised(t, v)
	move(c, 300)
	v.Advance(rate / 2)
	v.Reset(true)
	if s := c.Status(); s.Position != 0 || v.Shaft().Microsteps != 300 {
		t.Errorf("count %d, shaft %v; want 0 and 300", s.Position, v.Shaft().Microsteps)
	}
	c.Must(protocol.TypeSetWindow, protocol.Window{Lo: -64000, Hi: 64000}.Append(nil))
	c.Must(protocol.TypeEnergise, protocol.Energise{On: true}.Append(nil))
	move(c, -300)
	v.Advance(rate / 2)
	if got := v.Shaft().Microsteps; got != 0 {
		t.Errorf("shaft %v; want 0", got)
	}
}

func TestHangAnswersNothing(t *testing.T) {
	v := virtual.New(virtual.Options{Faults: []virtual.Fault{{Kind: virtual.FaultHang, AtStep: 10}}})
	c := energised(t, v)
	move(c, 100)
	v.Advance(rate / 2)
	lost := c.Send(protocol.TypeStatus, nil)
	c.Raw([]byte{0}) // returns when the pipe is read again, so after lost was read
	v.Reset(false)
	f := c.Send(protocol.TypeStatus, nil)
	if r, _ := c.Reply(f); r.Status.Position != 100 || lost.Seq == f.Seq {
		t.Errorf("after hang and reset %+v", r)
	}
	if len(c.Events) != 0 {
		t.Errorf("a board that hangs sent %+v", c.Events)
	}
}

func TestKindsAreDistinct(t *testing.T) {
	kinds := slices.Sorted(slices.Values(virtual.Kinds()))
	if len(slices.Compact(slices.Clone(kinds))) != len(kinds) || slices.Contains(kinds, "") || len(kinds) != 10 {
		t.Errorf("kinds %q", kinds)
	}
}
