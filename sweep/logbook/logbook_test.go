package logbook

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"sync"
	"testing"
	"time"

	"headtrue/sweep/record"
)

func openBook(t *testing.T) *Book {
	t.Helper()
	book, err := Open(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	return book
}

func begin(t *testing.T, book *Book) *Run {
	t.Helper()
	run, err := book.Begin(record.Start{Command: "align"})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { run.Close() })
	return run
}

func step(n int) record.Entry {
	return record.Entry{Kind: record.KindStep, TapeSeconds: float64(n) / 2,
		Step: &record.Step{N: n, Phase: "bracket", ScrewDeg: 7.5 * float64(n), FromHome: true}}
}

func TestARunComesBackAsItWasWritten(t *testing.T) {
	book := openBook(t)
	at := time.Date(2024, 5, 6, 7, 8, 9, 123e6, time.UTC)
	book.now = func() time.Time { return at }
	run := begin(t, book)
	found := record.Entry{Kind: record.KindFound, Found: &record.Found{PositionMicrosteps: -71, Epoch: 3, Memory: "kept"}}
	seated := *found.Found
	seated.Seated = &record.Reading{DelayUS: 7}
	for _, e := range []record.Entry{found, {Kind: record.KindFound, Found: &seated}, step(1), step(2)} {
		if err := run.Append(e); err != nil {
			t.Fatal(err)
		}
	}
	rec, err := book.Load(run.ID())
	if err != nil {
		t.Fatal(err)
	}
	if rec.Run != "20240506T070809Z" || rec.Start().Run != rec.Run || rec.Start().Version != record.Version {
		t.Errorf("run %q, start %+v", rec.Run, rec.Start())
	}
	if got := rec.Entries[0].At; got != "2024-05-06T07:08:09.123Z" {
		t.Errorf("time of the first entry %q", got)
	}
	want := step(2)
	want.At = "2024-05-06T07:08:09.123Z"
	if got := rec.Entries[4]; !reflect.DeepEqual(got, want) {
		t.Errorf("got %+v, want %+v", got, want)
	}
	if f := rec.Found(); f == nil || f.PositionMicrosteps != -71 || f.Epoch != 3 || f.Seated == nil || f.Seated.DelayUS != 7 {
		t.Errorf("found %+v, want what was known of it last", f)
	}
	if rec.End() != nil || rec.Decision() != nil || rec.Left() != nil || rec.Torn {
		t.Error("a run without end, decision or as left came back with one, or torn")
	}
	if rec.TapeSeconds() != 1 {
		t.Errorf("tape seconds %v, want 1", rec.TapeSeconds())
	}
}

func TestRunsOfOneSecondGetDifferentNamesInOrder(t *testing.T) {
	dir := t.TempDir()
	at := time.Date(2024, 5, 6, 7, 8, 9, 0, time.UTC)
	const many = 20
	var wg sync.WaitGroup
	for range many {
		wg.Go(func() {
			book, err := Open(dir) // as a process of its own would
			if err != nil {
				t.Error(err)
				return
			}
			book.now = func() time.Time { return at }
			run, err := book.Begin(record.Start{})
			if err != nil {
				t.Error(err)
				return
			}
			defer run.Close()
			if err := run.Append(step(1)); err != nil {
				t.Error(err)
			}
		})
	}
	wg.Wait()
	book, _ := Open(dir)
	runs, err := book.Runs()
	if err != nil || len(runs) != many {
		t.Fatalf("%d runs, want %d; %v", len(runs), many, err)
	}
	for _, name := range runs {
		rec, err := book.Load(name)
		if err != nil || len(rec.Entries) != 2 || rec.Start().Run != name {
			t.Errorf("run %s: %d entries, start %+v, %v", name, len(rec.Entries), rec.Start(), err)
		}
	}
	if left, _ := filepath.Glob(filepath.Join(dir, "*"+reserved)); len(left) != 0 {
		t.Errorf("reserved names left behind: %v", left)
	}
}

func TestATornLastLineIsDroppedAndTold(t *testing.T) {
	for _, tail := range []string{`{"kind":"step","tape_sec`, `{"kind":"step"}`, "\x00\x00\x00", "\x00\x00\n"} {
		t.Run(fmt.Sprintf("%q", tail), func(t *testing.T) {
			book := openBook(t)
			run := begin(t, book)
			if err := run.Append(step(1)); err != nil {
				t.Fatal(err)
			}
			file, err := os.OpenFile(run.Path(), os.O_APPEND|os.O_WRONLY, 0)
			if err != nil {
				t.Fatal(err)
			}
			file.WriteString(tail)
			file.Close()
			rec, err := book.Load(run.ID())
			if err != nil || !rec.Torn || len(rec.Entries) != 2 {
				t.Errorf("torn %v, %d entries, %v; want true, 2, nil", rec.Torn, len(rec.Entries), err)
			}
		})
	}
}

func TestADamagedLineInTheMiddleIsNamed(t *testing.T) {
	book := openBook(t)
	path := filepath.Join(book.Dir(), "20240101T000000Z.jsonl")
	text := `{"kind":"start","start":{"version":1}}` + "\nrubbish\n" + `{"kind":"step"}` + "\n"
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	_, err := book.Load("20240101T000000Z")
	var damaged *DamagedError
	if !errors.As(err, &damaged) || damaged.Line != 2 {
		t.Errorf("got %v, want damage at line 2", err)
	}
}

func TestANewerFormatIsRefused(t *testing.T) {
	book := openBook(t)
	path := filepath.Join(book.Dir(), "20240101T000000Z.jsonl")
	text := fmt.Sprintf(`{"kind":"start","start":{"version":%d}}`, record.Version+1) + "\n"
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	_, err := book.Load("20240101T000000Z")
	var newer *NewerError
	if !errors.As(err, &newer) || newer.Version != record.Version+1 {
		t.Errorf("got %v, want a NewerError", err)
	}
}

func TestNamesThatAreNoRun(t *testing.T) {
	book := openBook(t)
	for _, name := range []string{"", "..", "../x", "a/b", ".hidden", "20200101T000000Z"} {
		if _, err := book.Load(name); !errors.Is(err, ErrNoRun) {
			t.Errorf("%q: got %v, want ErrNoRun", name, err)
		}
	}
	if _, err := book.Newest(nil); !errors.Is(err, ErrEmpty) {
		t.Errorf("newest of an empty logbook: %v, want ErrEmpty", err)
	}
}

func TestNewestPassesOverWhatIsNotWantedOrNotReadable(t *testing.T) {
	book := openBook(t)
	second := 0
	book.now = func() time.Time { second++; return time.Unix(int64(second), 0) }
	var ids []string
	for _, port := range []string{"/dev/a", "/dev/b", "/dev/a"} {
		run, err := book.Begin(record.Start{Port: port})
		if err != nil {
			t.Fatal(err)
		}
		run.Close()
		ids = append(ids, run.ID())
	}
	if err := os.WriteFile(filepath.Join(book.Dir(), "99990101T000000Z.jsonl"), nil, 0o644); err != nil {
		t.Fatal(err)
	}
	if rec, err := book.Newest(nil); err != nil || rec.Run != ids[2] {
		t.Errorf("newest %q, %v; want %q", rec.Run, err, ids[2])
	}
	onB := func(r Record) bool { return r.Start().Port == "/dev/b" }
	if rec, err := book.Newest(onB); err != nil || rec.Run != ids[1] {
		t.Errorf("newest on b %q, %v; want %q", rec.Run, err, ids[1])
	}
}

func TestAFailedSyncIsToldAndEndsTheRun(t *testing.T) {
	book := openBook(t)
	run := begin(t, book)
	failure := errors.New("the disk has gone")
	run.sync = func(*os.File) error { return failure }
	if err := run.Append(step(1)); !errors.Is(err, failure) {
		t.Fatalf("got %v, want the failure of the sync", err)
	}
	run.sync = (*os.File).Sync
	if err := run.Append(step(2)); !errors.Is(err, failure) {
		t.Errorf("after a failed sync: got %v, want the same failure", err)
	}
}

func TestClipsLieBesideTheRunAndAreNoRuns(t *testing.T) {
	book := openBook(t)
	run := begin(t, book)
	path := run.ClipPath("as-found")
	if want := run.ID() + "-as-found.wav"; filepath.Base(path) != want || filepath.Dir(path) != book.Dir() {
		t.Errorf("clip at %q, want %q in the logbook", path, want)
	}
	if err := os.WriteFile(path, nil, 0o644); err != nil {
		t.Fatal(err)
	}
	if runs, _ := book.Runs(); len(runs) != 1 {
		t.Errorf("a clip is listed as a run: %v", runs)
	}
}

func TestAClosedRunTakesNothingMore(t *testing.T) {
	run := begin(t, openBook(t))
	if err := run.Close(); err != nil {
		t.Fatal(err)
	}
	if err := run.Close(); err != nil {
		t.Errorf("second close: %v", err)
	}
	if err := run.Append(step(1)); err == nil || !strings.Contains(err.Error(), "closed") {
		t.Errorf("append after close: %v", err)
	}
}
