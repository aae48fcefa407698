package main

import (
	"context"
	"io"
	"testing"

	"headtrue/cmd/headtrue/settings"
	"headtrue/sweep"
	"headtrue/sweep/logbook"
)

// jobOnTheTone is a job of a command on the virtual bench that plays a tone, with a logbook
// of its own; what it tells a person goes to said.
func jobOnTheTone(t *testing.T, command string, said io.Writer) *job {
	t.Helper()
	profile, err := settings.Bench("tone")
	if err != nil {
		t.Fatal(err)
	}
	book, err := logbook.Open(t.TempDir(), "")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { book.Close() })
	return &job{cli: &cli{out: io.Discard, err: &screen{to: said}}, command: command, book: book, bench: profile, plan: sweep.Plan{ToneHz: 10000},
		settings: settings.Loaded{Settings: settings.Default()}, flags: jobFlags{virtual: virtualFlags{profile: "tone", seed: 1}}}
}

// A check turns the motor with the blade off: the screw of the virtual bench,
// by its own truth, stays where it was, and the blade never goes in.
func TestCheckLeavesTheVirtualScrewAlone(t *testing.T) {
	j := jobOnTheTone(t, "check", io.Discard)
	if err := j.check(context.Background()); err != nil {
		t.Fatal(err)
	}
	truth := j.rig.bench.Truth()
	if truth.Seconds < 4 {
		t.Fatalf("the check took %.1f s of tape: it did not turn the motor", truth.Seconds)
	}
	if truth.ScrewDeg != 0 || truth.BladeSeated || truth.TiltArcmin != truth.FoundTiltArcmin {
		t.Errorf("after the check the screw stands at %.2f degrees, blade seated: %v, tilt %.2f' (found %.2f')",
			truth.ScrewDeg, truth.BladeSeated, truth.TiltArcmin, truth.FoundTiltArcmin)
	}
}
