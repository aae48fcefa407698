package jig_test

import (
	"context"
	"errors"
	"testing"
	"time"

	"headtrue/jig"
	"headtrue/jig/jigtest"
	"headtrue/jig/virtual"
)

// Frames are lost, doubled, garbled and cut in both directions. The moves end as on a
// good line, each made once.
func TestSpoiltFrames(t *testing.T) {
	fifth := func(n int) bool { return n%5 == 3 }
	for name, spoil := range map[string]jigtest.Spoil{
		"lost": jigtest.Drop(fifth), "doubled": jigtest.Double(fifth),
		"garbled": jigtest.Garble(fifth), "cut": jigtest.Cut(fifth),
	} {
		for _, way := range []string{"to the jig", "from the jig", "both"} {
			t.Run(name+" "+way, func(t *testing.T) {
				t.Parallel()
				v := virtual.New(virtual.Options{})
				var out, in jigtest.Spoil
				if way != "from the jig" {
					out = spoil
				}
				if way != "to the jig" {
					in = spoil
				}
				line := jigtest.SpoilLine(virtual.Pipe(t.Context(), v), out, in)
				j := openLine(t, line, profile(), jig.ReplyTimeout(50*time.Millisecond))
				for _, target := range []jig.Degrees{90, -45, 10} {
					_, err := j.MoveTo(t.Context(), target, func(context.Context) error { v.Advance(9600); return nil })
					if err != nil {
						t.Errorf("to %v: %v", target, err)
					}
				}
				if s := v.Shaft(); s.Microsteps != 89 || s.Moving { // 10 degrees
					t.Errorf("shaft %+v; want 89", s)
				}
				if got := j.Travel(); got != jig.Degrees(800+1200+489)*360/3200 {
					t.Errorf("travel %v; want 280.0125", got)
				}
				if err := j.Halt(); err != nil {
					t.Errorf("halt: %v", err)
				}
			})
		}
	}
}

// Noise made by the board itself, while it moves.
func TestLineNoise(t *testing.T) {
	v := virtual.New(virtual.Options{Faults: []virtual.Fault{{Kind: virtual.FaultLineNoise, AtStep: 100}}})
	j := openLine(t, virtual.Pipe(t.Context(), v), profile(), jig.ReplyTimeout(50*time.Millisecond))
	if _, err := j.MoveTo(t.Context(), 90, lockStep(v)); err != nil {
		t.Errorf("three garbled frames: %v", err)
	}
}

func TestResetInMidMove(t *testing.T) {
	for kind, memory := range map[string]jig.Memory{
		virtual.FaultReset: jig.Doubtful, virtual.FaultPowerLoss: jig.Unknown,
	} {
		v := virtual.New(virtual.Options{Faults: []virtual.Fault{{Kind: kind, AtStep: 500}}})
		j := open(t, v, profile())
		before := j.Greeting().BootCount
		_, err := j.MoveTo(t.Context(), 90, lockStep(v))
		var reset *jig.ResetError
		if !errors.As(err, &reset) || reset.Before != before || reset.After != before+1 || reset.Status.Memory != memory {
			t.Errorf("%s: %v, %+v", kind, err, reset)
		}
		if s := v.Shaft(); s.Moving || s.Energised || s.Microsteps != 500 {
			t.Errorf("%s: shaft %+v", kind, s)
		}
		// Nothing moves again in this session, but STOP is still sent.
		if err := j.Energise(t.Context()); !errors.As(err, &reset) {
			t.Errorf("%s: energise afterwards: %v", kind, err)
		}
		if err := j.Start(t.Context(), 0); !errors.As(err, &reset) || v.Shaft().Moving {
			t.Errorf("%s: move afterwards: %v", kind, err)
		}
		if err := j.Halt(); err != nil {
			t.Errorf("%s: halt afterwards: %v", kind, err)
		}
	}
}

// A reset while standing shows at the next request of any kind.
func TestResetWhileStanding(t *testing.T) {
	v := virtual.New(virtual.Options{})
	j := open(t, v, profile())
	v.Reset(false)
	err := j.Start(t.Context(), 90)
	var reset *jig.ResetError
	if !errors.As(err, &reset) || reset.Status.Memory != jig.Kept || v.Shaft().Moving {
		t.Errorf("%v, %+v; want a reset with the position kept", err, reset)
	}
}

func TestHangIsNoAnswer(t *testing.T) {
	v := virtual.New(virtual.Options{Faults: []virtual.Fault{{Kind: virtual.FaultHang, AtStep: 500}}})
	j := openLine(t, virtual.Pipe(t.Context(), v), profile(), jig.ReplyTimeout(20*time.Millisecond))
	_, err := j.MoveTo(t.Context(), 90, lockStep(v))
	if !errors.Is(err, jig.ErrNoAnswer) {
		t.Errorf("%v; want %v", err, jig.ErrNoAnswer)
	}
}

// An abrupt stop from full speed makes the position doubtful. It stays so in the next
// session until it is declared.
func TestDoubtLastsUntilDeclared(t *testing.T) {
	v := virtual.New(virtual.Options{Faults: []virtual.Fault{{Kind: virtual.FaultStopInput, AtStep: 500}}})
	j := open(t, v, profile())
	_, _ = j.MoveTo(t.Context(), 90, lockStep(v))
	_ = j.Close()
	again, err := jig.Open(t.Context(), virtual.Pipe(t.Context(), v), profile())
	if err != nil {
		t.Fatal(err)
	}
	defer again.Close()
	g := again.Greeting()
	if g.Memory != jig.Doubtful || g.PositionMicrosteps != 500 {
		t.Errorf("greeting %+v; want 500, doubtful", g)
	}
	if err := again.Declare(t.Context(), 564); err != nil {
		t.Fatal(err)
	}
	s, err := again.Status(t.Context())
	if err != nil || s.Memory != jig.Kept || s.Epoch != g.Epoch+1 || s.Microsteps != 564 {
		t.Errorf("after the declaration %+v, %v", s, err)
	}
}
