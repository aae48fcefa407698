package main

import (
	"context"
	"io"
	"os"
	"testing"

	"headtrue/cmd/headtrue/settings"
	"headtrue/sweep/logbook"
	"headtrue/sweep/record"
)

// The cautions are asked once a sitting, and stand in the record of every seating.
// Nobody can be asked here, so that asking would end it as a wrong command line.
func TestASittingIsAskedOnce(t *testing.T) {
	ofItsOwn(t)
	book, err := logbook.Open(os.Getenv("HEADTRUE_LOGBOOK"), "")
	if err != nil {
		t.Fatal(err)
	}
	defer book.Close()
	nobody, err := os.Open(os.DevNull)
	if err != nil {
		t.Fatal(err)
	}
	defer nobody.Close()
	j := &job{cli: &cli{in: nobody, out: io.Discard, err: &screen{to: io.Discard}}, command: gaugeCommand, book: book, flags: jobFlags{itself: true}}
	j.settings.Settings = settings.Default()
	j.settings.Port, j.settings.Audio = "/dev/nosuch", "pulse:x"
	seating := []trial{{Number: 5, Unit: "A", Operator: "K", Reseating: 1, Repeat: 1}}
	code := func() int {
		return failureOf(j.forSeating("spring", seating).prepare(context.Background()), true).code
	}
	if got := code(); got != exitUsage {
		t.Errorf("the first of a sitting: code %d, want to be asked (%d)", got, exitUsage)
	}
	asked := record.Cautions{Asked: true, Answer: "yes"}
	j.seated, j.cautions, j.hands = true, asked, hands{itself: true}
	if got := code(); got != exitOf(record.NotReady) {
		t.Errorf("the second: code %d, want it to get as far as the port (%d)", got, exitOf(record.NotReady))
	}
	one := j.forSeating("spring", seating)
	if s := one.start(); s.Cautions != asked || s.Study != "spring" || s.Trial != 5 || s.Unit != "A" || s.Operator != "K" {
		t.Errorf("the record begins with %+v", s)
	}
}
