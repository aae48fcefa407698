package app

import (
	"bytes"
	"context"
	"errors"
	"io"
	"strings"
	"testing"

	"headtrue/sweep"
	"headtrue/sweep/record"
)

// The program crashes in mid-turn: the motor stands and is off, the record is closed with the
// position of the screw, and the exit code is 1.
func TestARunThatBreaksIsClosed(t *testing.T) {
	var said bytes.Buffer
	j := jobOnTheTone(t, "align", &said)
	var turned bool
	end, err := j.Perform(context.Background(), func(ctx context.Context, s sweep.Setup) (record.End, error) {
		if err := s.Jig.SetWindow(ctx, -100, 100); err != nil {
			t.Fatal(err)
		}
		if err := s.Jig.Energise(ctx); err != nil {
			t.Fatal(err)
		}
		if err := s.Jig.Start(ctx, 90); err != nil {
			t.Fatal(err)
		}
		for range 8 {
			if _, err := s.Sound.Next(ctx); err != nil {
				t.Fatal(err)
			}
			s.Jig.Renew()
		}
		st, err := s.Jig.Status(ctx)
		turned = err == nil && st.Moving
		var none []int
		return record.End{}, s.Save(record.Entry{Step: &record.Step{N: none[len(none)]}})
	})
	if err != nil || !turned {
		t.Fatalf("%v; turned %v", err, turned)
	}
	if end.Outcome != record.Failed || !strings.Contains(end.Say, "guard_test.go:") || !strings.Contains(end.Say, "the screw stands still") {
		t.Errorf("it ended with %+v", end)
	}
	var f *Failure
	if !errors.As(Ended(end), &f) || f.Outcome != record.Failed {
		t.Errorf("it is the failure %+v", f)
	}
	if end.ScrewDeg <= 0 || end.ScrewDeg >= 90 {
		t.Errorf("the screw stands at %.1f degrees; it was stopped on its way from 0 to 90", end.ScrewDeg)
	}
	kept, err := j.book.Load(j.Run())
	if err != nil {
		t.Fatal(err)
	}
	if got := kept.Entries[len(kept.Entries)-1].End; got == nil || got.Outcome != record.Failed {
		t.Errorf("the record ends with %+v", got)
	}
	if !strings.Contains(said.String(), "goroutine ") {
		t.Errorf("the stack is not shown: %s", said.String())
	}
}

// A run that crashes leaves the screw where it is, and names the command that restores it.
func TestARunThatBreaksNamesTheWayBack(t *testing.T) {
	j := jobOnTheTone(t, "align", io.Discard)
	const command = "headtrue restore RUN"
	end, err := j.whole(t.Context(), func(context.Context, sweep.Setup) (record.End, error) { panic("broken") },
		sweep.Setup{RestoreCommand: command, Save: func(record.Entry) error { return nil }})
	if err != nil || end.RestoreCommand != command || !strings.Contains(Said(end), command) {
		t.Errorf("%v: it ended with %q", err, Said(end))
	}
}
