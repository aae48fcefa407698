package jig_test

import (
	"context"
	"errors"
	"io"
	"math"
	"testing"
	"time"

	protocol "headtrue/firmware-protocol"
	"headtrue/jig"
	"headtrue/jig/jigtest"
	"headtrue/jig/virtual"
)

// A cancelled context stops the screw before the error returns.
func TestCancelHalts(t *testing.T) {
	v := virtual.New(virtual.Options{})
	j := open(t, v, profile())
	ctx, cancel := context.WithCancel(t.Context())
	_, err := j.MoveTo(ctx, 300, func(context.Context) error {
		v.Advance(1024)
		if v.Shaft().Microsteps > 300 {
			cancel()
		}
		return nil
	})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled move: %v", err)
	}
	v.Advance(48000 / 4) // less than the silence that would stop it anyway
	s, err := j.Status(t.Context())
	if err != nil || s.Moving || s.Reason != jig.ReasonOrder || s.Memory != jig.Kept {
		t.Errorf("after the cancelled move %+v, %v; want stopped by order", s, err)
	}
	if err := j.Start(ctx, 0); !errors.Is(err, context.Canceled) || v.Shaft().Moving {
		t.Errorf("a move under an ended context: %v, shaft %+v", err, v.Shaft())
	}
}

func TestPassErrorHalts(t *testing.T) {
	v := virtual.New(virtual.Options{})
	j := open(t, v, profile())
	_, err := j.MoveTo(t.Context(), 300, func(context.Context) error {
		v.Advance(9600)
		if v.Shaft().Microsteps > 300 {
			return io.EOF
		}
		return nil
	})
	if !errors.Is(err, io.EOF) {
		t.Errorf("move whose sound ended: %v", err)
	}
	v.Advance(48000 / 4)
	if s, err := j.Status(t.Context()); err != nil || s.Moving || s.Reason != jig.ReasonOrder {
		t.Errorf("after it %+v, %v; want stopped by order", s, err)
	}
}

// A host that hangs sends no requests, and nothing else does.
func TestHungHostLetsTheJigStop(t *testing.T) {
	v := virtual.New(virtual.Options{})
	j := open(t, v, profile())
	if err := j.Start(t.Context(), 1800); err != nil {
		t.Fatal(err)
	}
	v.Advance(24000 + 48000/4) // silence and ramp
	if s := v.Shaft(); s.Moving || math.Abs(s.Microsteps-640) > 2 {
		t.Errorf("after 0.75 s without a poll %+v; want standing at 640: 1600 x (0.4 - 0.1) and a ramp of 160", s)
	}
	_, err := j.Wait(t.Context(), lockStep(v))
	var stopped *jig.StoppedError
	if !errors.As(err, &stopped) || stopped.Reason != jig.ReasonSilence || stopped.Status.Memory != jig.Kept {
		t.Errorf("wait: %v; want stopped by silence, position kept", err)
	}
}

// After STOP the motor ramps down: it stands, and can be released, only after the ramp.
func TestStandStill(t *testing.T) {
	v := virtual.New(virtual.Options{})
	j := open(t, v, profile())
	if err := j.Start(t.Context(), 1800); err != nil {
		t.Fatal(err)
	}
	v.Advance(24000)
	if err := j.Halt(); err != nil || !v.Shaft().Moving {
		t.Fatalf("halt: %v, shaft %+v; want one that still ramps down", err, v.Shaft())
	}
	s, err := j.StandStill(t.Context(), lockStep(v))
	if err != nil || s.Moving || v.Shaft().Moving || float64(s.Microsteps) != v.Shaft().Microsteps {
		t.Errorf("stands at %+v, %v; the shaft is at %+v", s, err, v.Shaft())
	}
	if err := j.Release(t.Context()); err != nil || v.Shaft().Energised {
		t.Errorf("release: %v, shaft %+v", err, v.Shaft())
	}
}

// A pass that fails, for example at the end of the sound, does not end the wait. A jig
// whose time stands still does not prolong it forever.
func TestStandStillGivesUp(t *testing.T) {
	t.Parallel()
	v := virtual.New(virtual.Options{})
	j := open(t, v, profile())
	if err := j.Start(t.Context(), 1800); err != nil {
		t.Fatal(err)
	}
	v.Advance(24000)
	_, err := j.StandStill(t.Context(), func(context.Context) error { return io.EOF })
	if !errors.Is(err, jig.ErrOverdue) {
		t.Errorf("%v; want %v", err, jig.ErrOverdue)
	}
}

// A motor that reports turning forever is stopped.
func TestOverdue(t *testing.T) {
	v := virtual.New(virtual.Options{})
	liar := func(_ int, wire []byte) []byte {
		f, err := protocol.Parse(wire[:len(wire)-1])
		if err != nil || f.Type != protocol.TypeStatus|protocol.ReplyBit {
			return wire
		}
		f.Body[1+14] |= byte(protocol.FlagMoving)
		return f.Append(nil)
	}
	line := jigtest.SpoilLine(virtual.Pipe(t.Context(), v), nil, liar)
	j := openLine(t, line, profile(), jig.ReplyTimeout(3*time.Second))
	_, err := j.MoveTo(t.Context(), 90, lockStep(v))
	if !errors.Is(err, jig.ErrOverdue) {
		t.Errorf("%v; want %v", err, jig.ErrOverdue)
	}
	s, _ := j.Status(t.Context())
	if s.Micros < 2e6 || s.Micros > 4e6 {
		t.Errorf("it took %d us to be noticed; a move of 0.7 s is overdue 2 s later", s.Micros)
	}
}
