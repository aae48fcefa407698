package app

import (
	"context"
	"errors"
	"io"
	"testing"

	"headtrue/cmd/headtrue/settings"
	"headtrue/sweep/logbook"
	"headtrue/sweep/record"
	"headtrue/sweep/study/report"
)

// The cautions are asked once per sitting, and are in the record of every seating. Nobody can
// be asked here, so that asking would end it as a wrong command line.
func TestASittingIsAskedOnce(t *testing.T) {
	book, err := logbook.Open(t.TempDir(), "")
	if err != nil {
		t.Fatal(err)
	}
	defer book.Close()
	j := &Job{Order: Order{Command: CommandRepeat, BladeSeatsItself: true}, front: frontTo(io.Discard), book: book, sitting: &sitting{}}
	j.Settings.Settings = settings.Default()
	j.Settings.Port, j.Settings.Audio = "/dev/nosuch", "pulse:x"
	seating := []report.Trial{{Number: 5, Unit: "A", Operator: "K", Reseating: 1, Repeat: 1}}
	outcome := func() record.Outcome {
		var f *Failure
		if err := j.forSeating("spring", seating).prepare(context.Background()); !errors.As(err, &f) {
			t.Fatalf("prepared: %v", err)
		}
		return f.Outcome
	}
	for range 2 { // an unanswered question is asked again
		if got := outcome(); got != "" {
			t.Errorf("the first of a sitting: %q, want to be asked, where nobody can be", got)
		}
	}
	asked := record.Cautions{Asked: true, Answer: "yes"}
	*j.sitting = sitting{begun: true, cautions: asked, hands: hands{itself: true}}
	if got := outcome(); got != record.NotReady {
		t.Errorf("the second: %q, want it to get as far as the port", got)
	}
	one := j.forSeating("spring", seating)
	if s := one.Start(); s.Cautions != asked || s.Study != "spring" || s.Trial != 5 || s.Unit != "A" || s.Operator != "K" {
		t.Errorf("the record begins with %+v", s)
	}
}
