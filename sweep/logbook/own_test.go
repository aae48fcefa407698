package logbook

import (
	"testing"
	"time"

	"headtrue/sweep/record"
)

// The newest run of this bench is the last written one, whatever the clock at its
// beginning. A run recorded elsewhere does not count, and a clock that was set back is
// detected.
func TestTheNewestHereGoesByTheOrderOfWriting(t *testing.T) {
	onEach(t, func(t *testing.T, p place) {
		at := begun
		book := p.open(t)
		book.now = func() time.Time { return at }
		first := begin(t, book, record.Start{Command: "align", Bench: "usb 1"})
		at = begun.Add(-48 * time.Hour)
		if by, run, err := book.Behind(); err != nil || by != 48*time.Hour || run != first.ID() {
			t.Errorf("the clock is said to be %v behind run %q (%v)", by, run, err)
		}
		second := begin(t, book, record.Start{Command: "align", Bench: "usb 2"})
		elsewhere := []record.Entry{{Kind: record.KindStart, At: "2199-01-01T00:00:00Z",
			Start: &record.Start{Version: record.Version, Run: "elsewhere", Command: "align", Bench: "usb 2"}}}
		if taken, err := book.Import(elsewhere); taken != Added || err != nil {
			t.Fatal(taken, err)
		}
		for _, c := range []struct {
			f    Filter
			want string
		}{{Filter{Here: true}, second.ID()}, {Filter{}, "elsewhere"}, {Filter{Here: true, OldestFirst: true}, first.ID()},
			{Filter{Here: true, Bench: "usb 1"}, first.ID()}, {Filter{Bench: "usb 2"}, "elsewhere"}} {
			if rec, err := book.Newest(c.f); err != nil || rec.Run != c.want {
				t.Errorf("%+v: run %q (%v), want %q", c.f, rec.Run, err, c.want)
			}
		}
		for run, want := range map[string]bool{first.ID(): false, "elsewhere": true} {
			if got, err := book.Imported(run); err != nil || got != want {
				t.Errorf("run %s is imported: %v (%v)", run, got, err)
			}
		}
		if by, run, err := book.Behind(); err != nil || by != 0 || run != "" {
			t.Errorf("the clock is said to be %v behind run %q (%v)", by, run, err)
		}
	})
}
