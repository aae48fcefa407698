package jig_test

import (
	"context"
	"testing"
	"time"

	"headtrue/jig"
	"headtrue/jig/virtual"
)

// profile is a plain jig: motor and screw turn alike.
func profile() jig.Profile {
	return jig.Profile{Name: "test", StepsPerTurn: 200, Microsteps: 16, Gear: 1, Direction: 1}
}

// lockStep moves the virtual jig's time on by one block of sound per poll.
func lockStep(v *virtual.Jig) jig.Pass {
	return func(ctx context.Context) error {
		v.Advance(1024)
		return ctx.Err()
	}
}

// open opens a virtual jig through a pipe and energises it.
func open(t *testing.T, v *virtual.Jig, p jig.Profile) *jig.Jig {
	t.Helper()
	j, err := jig.Open(t.Context(), virtual.Pipe(t.Context(), v), p, jig.ReplyTimeout(3*time.Second))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = j.Close() })
	if err := j.Energise(t.Context()); err != nil {
		t.Fatal(err)
	}
	return j
}

func TestMoveTo(t *testing.T) {
	v := virtual.New(virtual.Options{})
	j := open(t, v, profile())
	s, err := j.MoveTo(t.Context(), 90, lockStep(v))
	if err != nil {
		t.Fatal(err)
	}
	if s.Position != 90 || s.Microsteps != 800 || v.Shaft().Microsteps != 800 || s.Moving {
		t.Errorf("after a move to 90 degrees: %+v, shaft %v; want 800 microsteps", s, v.Shaft())
	}
}
