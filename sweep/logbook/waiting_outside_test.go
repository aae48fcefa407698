//go:build outside && linux

package logbook

import (
	"context"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"headtrue/sweep/logbook/postgrestest"
	"headtrue/sweep/record"
)

// waiting records a run that stays in the spool although the server is there.
func waiting(t *testing.T, book *Book, entries ...record.Entry) Record {
	t.Helper()
	run := begin(t, book.spool, record.Start{Command: "align", Unit: "D-1"})
	appendAll(t, run, entries...)
	if err := run.Close(); err != nil {
		t.Fatal(err)
	}
	rec, err := book.Load(run.ID())
	if err != nil || len(rec.Entries) != len(entries)+1 {
		t.Fatalf("%+v, %v", rec, err)
	}
	return rec
}

// A copy of a run that waits in the spool adds its remarks, each once, and does not mark
// the run as recorded elsewhere, whichever reaches the server first.
func TestACopyOfARunThatWaitsIsMerged(t *testing.T) {
	for name, first := range map[string]string{"imported here": "", "imported on another bench": "other"} {
		for what, own := range map[string][]record.Entry{"ended": {step(1), end(record.Aligned)}, "cut off": {step(1), step(2)}} {
			p := engines["postgres"](t)
			book := p.open(t)
			rec := waiting(t, book, own...)
			at, want := book, Grown
			if first == "other" {
				at, want = place{p.where, t.TempDir()}.open(t), Added
			}
			theirs := append(slices.Clone(rec.Entries[:2]), remark("a"))
			if what == "ended" {
				theirs = append(slices.Clone(rec.Entries), remark("a"))
			}
			if took, err := at.Import(theirs); took != want || err != nil {
				t.Errorf("%s, %s: %v, %v; want %v", name, what, took, err, want)
			}
			for _, again := range [][]record.Entry{theirs, rec.Entries} {
				if took, err := book.Import(again); took != Known || err != nil {
					t.Errorf("%s, %s: once more: %v, %v", name, what, took, err)
				}
			}
			awaitSent(t, p)
			there := place{p.where, t.TempDir()}.open(t)
			got, err := there.Load(rec.Run)
			if err != nil || len(got.Entries) != 4 || got.Entries[3].Note == nil || (got.End() != nil) != (what == "ended") {
				t.Errorf("%s, %s: %v: the server has %+v", name, what, err, got.Entries)
			}
			for bench, b := range map[string]*Book{"its own": book, "another": there} {
				if imported, err := b.Imported(rec.Run); err != nil || imported {
					t.Errorf("%s, %s: on %s bench it is imported: %v, %v", name, what, bench, imported, err)
				}
			}
			if runs, said := troubles(t, there); runs != 1 || said != nil {
				t.Errorf("%s, %s: %d runs, %q", name, what, runs, said)
			}
		}
	}
}

// Check reads the server's part of a waiting run, and the spool's copy of a sent run,
// neither of which any list shows.
func TestCheckReadsServerAndSpool(t *testing.T) {
	for what, c := range map[string]struct {
		damage func(*Book) error
		want   string
	}{
		"the server's part": {func(b *Book) error {
			_, err := b.db.Exec("DELETE FROM entries WHERE n = 1 AND run = (SELECT id FROM runs WHERE outcome = '')")
			return err
		}, "the part on the server: "},
		"the spool's copy": {func(b *Book) error {
			_, err := b.spool.db.Exec("UPDATE packs SET entries = 9")
			return err
		}, "the copy in the spool: "},
		"the spool's file": {func(b *Book) error {
			_, err := b.spool.db.Exec("PRAGMA foreign_keys = 0; INSERT INTO entries VALUES (98, 0, 'x'); PRAGMA foreign_keys = 1")
			return err
		}, "in the spool "},
	} {
		p := engines["postgres"](t)
		book := p.open(t)
		withClip(t, book, record.Start{}, "sound")
		run := begin(t, book, record.Start{})
		appendAll(t, run, step(1), step(2))
		there := place{p.where, t.TempDir()}.open(t)
		for rec := (Record{}); len(rec.Entries) < 3; time.Sleep(10 * time.Millisecond) {
			rec, _ = there.Load(run.ID())
		}
		if runs, said := troubles(t, book); runs != 2 || said != nil {
			t.Errorf("a whole logbook: %d runs, %q", runs, said)
		}
		if err := c.damage(book); err != nil {
			t.Fatal(err)
		}
		if runs, said := troubles(t, book); runs != 2 || len(said) != 1 || !strings.Contains(said[0], c.want) {
			t.Errorf("%s: %d runs, %q; want %q", what, runs, said, c.want)
		}
	}
}

// Runs written while the server was away are this bench's newest, whatever the clock.
// They are not imported, and are in the order of writing, even if the last one was being
// written when the server returned. Leftovers of a killed run need no server.
func TestWhatWaitsIsTheNewestHere(t *testing.T) {
	server := postgrestest.Start(t)
	p := place{server.Database(t), t.TempDir()}
	at := begun
	recordOne := func(book *Book) string {
		rec := withClip(t, book, record.Start{Command: "align"}, "x")
		at = at.Add(-24 * time.Hour)
		return rec.Run
	}
	open := func() *Book {
		book := p.open(t)
		book.now = func() time.Time { return at }
		return book
	}
	names := []string{recordOne(open())}
	server.Crash()
	names = append(names, recordOne(open()))
	part := filepath.Join(p.clips, "."+names[1]+"-as-left.wav.123")
	if err := os.WriteFile(part, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	book := open()
	if _, err := os.Stat(part); !os.IsNotExist(err) {
		t.Errorf("a killed run's part of a clip: %v", err)
	}
	last := begin(t, book, record.Start{Command: "align"})
	names = append(names, last.ID())
	if by, run, err := book.Behind(); err != nil || by != 0 || run != "" {
		t.Errorf("the clock is said to be %v behind run %q (%v)", by, run, err)
	}
	at = at.Add(-time.Hour)
	if by, run, err := book.Behind(); err != nil || by != time.Hour || run != last.ID() {
		t.Errorf("the clock is said to be %v behind run %q (%v)", by, run, err)
	}
	if rec, err := book.Newest(Filter{Here: true}); err != nil || rec.Run != last.ID() {
		t.Errorf("the newest here is %q (%v), want %q", rec.Run, err, last.ID())
	}
	if imported, err := book.Imported(names[1]); err != nil || imported {
		t.Errorf("imported: %v, %v", imported, err)
	}
	server.Up(t)
	other := place{p.where, t.TempDir()}.open(t)
	for until := time.Now().Add(sentWithin); ; time.Sleep(100 * time.Millisecond) {
		if rec, err := other.Load(last.ID()); err == nil && rec.Running {
			break
		}
		if time.Now().After(until) {
			rec, err := other.Load(last.ID())
			t.Fatalf("the run is not on the server: %+v, %v; away %v, other away %v", rec, err, book.Away(), other.Away())
		}
	}
	for who, b := range map[string]*Book{"this bench": book, "another": other} {
		for _, oldest := range []bool{true, false} {
			var listed []string
			for s, err := range b.List(context.Background(), Filter{Here: true, OldestFirst: oldest}) {
				if err != nil {
					t.Fatal(err)
				}
				listed = append(listed, s.Run)
			}
			want := slices.Clone(names)
			if !oldest {
				slices.Reverse(want)
			}
			if !slices.Equal(listed, want) {
				t.Errorf("%s, oldest first %v: %q, want %q", who, oldest, listed, want)
			}
		}
	}
}
