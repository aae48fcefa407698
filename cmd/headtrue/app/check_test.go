package app

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"

	"headtrue/cmd/headtrue/settings"
	"headtrue/dsp/audio"
	"headtrue/sweep"
	"headtrue/sweep/bench"
	"headtrue/sweep/logbook"
	"headtrue/sweep/record"
)

// jobOnTheTone is a job of a command on the virtual bench that plays a tone, with its own
// logbook; said receives all messages to a person.
func jobOnTheTone(t *testing.T, command string, said io.Writer) *Job {
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
	return &Job{Order: Order{Command: command, Settings: settings.Loaded{Settings: settings.Default()}, Virtual: "tone", Seed: 1},
		Plan: sweep.Plan{ToneHz: 10000}, Bench: profile, front: frontTo(said), book: book, sitting: &sitting{}}
}

// frontTo is a front end without a person; all its messages go to said.
func frontTo(said io.Writer) Front {
	return Front{
		Note: func(format string, args ...any) { fmt.Fprintf(said, format+"\n", args...) },
		Show: func(*Job) func(sweep.Event) {
			return func(e sweep.Event) { fmt.Fprintln(said, e.Phase, e.Say) }
		},
		Interruptible: func(ctx context.Context, _ string) (context.Context, func()) { return ctx, func() {} },
	}
}

// A check turns the motor with the blade off: by the truth of the virtual bench, the screw does
// not move, and the blade is never seated.
func TestCheckLeavesTheVirtualScrewAlone(t *testing.T) {
	j := jobOnTheTone(t, "check", io.Discard)
	if _, err := j.Check(context.Background()); err != nil {
		t.Fatal(err)
	}
	truth := j.rig.Bench.Truth()
	if truth.Seconds < 4 {
		t.Fatalf("the check took %.1f s of tape: it did not turn the motor", truth.Seconds)
	}
	if truth.ScrewDeg != 0 || truth.BladeSeated || truth.TiltArcmin != truth.FoundTiltArcmin {
		t.Errorf("after the check the screw stands at %.2f degrees, blade seated: %v, tilt %.2f' (found %.2f')",
			truth.ScrewDeg, truth.BladeSeated, truth.TiltArcmin, truth.FoundTiltArcmin)
	}
}

// crashing is a source of sound whose program crashes.
type crashing struct{ *bench.Bench }

func (crashing) Next(context.Context) (audio.Block, error) { panic("broken sound") }

// If a check crashes while the motor may turn, the motor is stopped and switched off.
func TestACheckThatBreaksStopsTheMotor(t *testing.T) {
	j := jobOnTheTone(t, "check", io.Discard)
	if err := j.prepare(t.Context()); err != nil {
		t.Fatal(err)
	}
	defer j.rig.Close()
	if err := j.rig.Jig.Energise(t.Context()); err != nil {
		t.Fatal(err)
	}
	checks, failed := j.ready(t.Context(), sweep.Setup{Jig: j.rig.Jig, Sound: crashing{j.rig.Bench}, Plan: j.Plan})
	failed = checkEnd(t.Context(), checks, failed)
	var f *Failure
	if !errors.As(failed, &f) || f.Outcome != record.Failed || !strings.Contains(f.Error(), "broken sound") {
		t.Fatalf("it ended with %v", failed)
	}
	if st, err := j.rig.Jig.Status(t.Context()); err != nil || st.Energised || st.Moving {
		t.Errorf("after the crash: %+v, %v", st, err)
	}
}
