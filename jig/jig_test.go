package jig_test

import (
	"context"
	"io"
	"testing"
	"time"

	"headtrue/jig"
	"headtrue/jig/virtual"
)

// profile is a plain jig: one turn of the motor is one turn of the screw, and 1600
// microsteps per second are 180 degrees per second.
func profile() jig.Profile {
	return jig.Profile{Name: "test", StepsPerTurn: 200, Microsteps: 16, Gear: 1, Direction: 1}
}

// lockStep advances the virtual jig's time by one block of sound per poll.
func lockStep(v *virtual.Jig) jig.Pass {
	return func(ctx context.Context) error {
		v.Advance(1024)
		return ctx.Err()
	}
}

// open opens a virtual jig through a pipe, declares its position and energises it.
func open(t *testing.T, v *virtual.Jig, p jig.Profile) *jig.Jig {
	t.Helper()
	return openLine(t, virtual.Pipe(t.Context(), v), p, jig.ReplyTimeout(3*time.Second))
}

func openLine(t *testing.T, line io.ReadWriteCloser, p jig.Profile, options ...jig.Option) *jig.Jig {
	t.Helper()
	j, err := jig.Open(t.Context(), line, p, options...)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = j.Close() })
	ready(t, j)
	return j
}

func ready(t *testing.T, j *jig.Jig) {
	t.Helper()
	if err := j.Declare(t.Context(), 0); err != nil {
		t.Fatal(err)
	}
	if err := j.SetWindow(t.Context(), -3600, 3600); err != nil {
		t.Fatal(err)
	}
	if err := j.Energise(t.Context()); err != nil {
		t.Fatal(err)
	}
}
