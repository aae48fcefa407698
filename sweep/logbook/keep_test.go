package logbook

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"sync"
	"testing"
	"time"

	"headtrue/sweep/record"
)

// withClip records a run that has a clip of some bytes.
func withClip(t *testing.T, book *Book, start record.Start, sound string) Record {
	t.Helper()
	run := begin(t, book, start)
	path := run.ClipPath("as-found")
	if err := os.WriteFile(path, []byte(sound), 0o644); err != nil {
		t.Fatal(err)
	}
	c, err := ClipOf(path)
	if err != nil {
		t.Fatal(err)
	}
	appendAll(t, run, record.Entry{Kind: record.KindClip, Clip: &c}, record.Entry{Kind: record.KindFound, Found: &record.Found{}}, end(record.Aligned))
	if err := run.Close(); err != nil {
		t.Fatal(err)
	}
	rec, err := book.Load(run.ID())
	if err != nil {
		t.Fatal(err)
	}
	return rec
}

func troubles(t *testing.T, book *Book) (runs int, said []string) {
	t.Helper()
	runs, err := book.Check(context.Background(), func(tr Trouble) { said = append(said, tr.Run+" "+tr.Clip+" "+tr.Say) })
	if err != nil {
		t.Fatal(err)
	}
	return runs, said
}

func TestCheckFindsWhatIsWrong(t *testing.T) {
	onEach(t, func(t *testing.T, p place) {
		book := p.open(t)
		var names, clips []string
		for range 3 {
			rec := withClip(t, book, record.Start{}, "sound")
			names, clips = append(names, rec.Run), append(clips, filepath.Join(book.Dir(), rec.Clips()[0].Name))
		}
		if runs, said := troubles(t, book); runs != 3 || said != nil {
			t.Errorf("a whole logbook: %d runs, %q", runs, said)
		}
		os.Remove(clips[0])
		os.WriteFile(clips[1], []byte("other"), 0o644)
		if _, err := book.db.Exec("UPDATE packs SET entries = 9 WHERE run = (SELECT id FROM runs WHERE run = $1)", names[2]); err != nil {
			t.Fatal(err)
		}
		_, said := troubles(t, book)
		all := strings.Join(said, "\n")
		for _, want := range []string{filepath.Base(clips[0]) + " the clip is missing", filepath.Base(clips[1]) + " the clip is not as it was recorded",
			"cannot be read: its entries are damaged"} {
			if !strings.Contains(all, want) || len(said) != 3 {
				t.Errorf("found %q, want %q among three", said, want)
			}
		}
	})
}

func TestADamagedFileIsFound(t *testing.T) {
	p := place{where: t.TempDir()}
	book := p.open(t)
	for range 40 {
		run := begin(t, book, record.Start{Unit: "a label that fills some room in the file"})
		appendAll(t, run, step(1), end(record.Aligned))
		run.Close()
	}
	if err := book.Close(); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(p.where, sqliteFile)
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	copy(text[len(text)/2:], strings.Repeat("x", 4096))
	if err := os.WriteFile(file, text, 0o644); err != nil {
		t.Fatal(err)
	}
	var said []string
	runs, err := p.open(t).Check(context.Background(), func(tr Trouble) { said = append(said, tr.Say) })
	if len(said) == 0 || !strings.Contains(said[0], "the store is damaged") {
		t.Errorf("%d runs, %v, %q: want the damage told", runs, err, said)
	}
}

func TestBackupIsALogbookOfItsOwn(t *testing.T) {
	onEach(t, func(t *testing.T, p place) {
		book := p.open(t)
		var want []Record
		for _, unit := range []string{"D-1", "D-2"} {
			want = append(want, withClip(t, book, record.Start{Unit: unit}, unit))
		}
		dir := filepath.Join(t.TempDir(), "backup")
		var said []Trouble
		if n, err := book.Backup(context.Background(), dir, func(tr Trouble) { said = append(said, tr) }); n != 2 || err != nil || said != nil {
			t.Fatalf("%d runs, %v, %+v", n, err, said)
		}
		copied := place{where: dir}.open(t)
		for _, rec := range want {
			if got, err := copied.Load(rec.Run); err != nil || !reflect.DeepEqual(got, rec) {
				t.Errorf("run %s: %v\ngot  %+v\nwant %+v", rec.Run, err, got, rec)
			}
		}
		if runs, said := troubles(t, copied); runs != 2 || said != nil {
			t.Errorf("the backup: %d runs, %q", runs, said)
		}
		if _, err := book.Backup(context.Background(), dir, func(Trouble) {}); err == nil || !strings.Contains(err.Error(), "not empty") {
			t.Errorf("over an old backup: %v", err)
		}
	})
}

func TestImportTakesARunOnceAndNoOther(t *testing.T) {
	onEach(t, func(t *testing.T, p place) {
		from := place{where: t.TempDir()}.open(t)
		rec := withClip(t, from, record.Start{Unit: "D-1"}, "x")
		book := p.open(t)
		for _, want := range []Taken{Added, Known} {
			if took, err := book.Import(rec.Entries); took != want || err != nil {
				t.Errorf("%v, %v; want %v", took, err, want)
			}
		}
		got, err := book.Load(rec.Run)
		if err != nil || !reflect.DeepEqual(got, rec) {
			t.Errorf("%v\ngot  %+v\nwant %+v", err, got, rec)
		}
		for s, err := range book.List(context.Background(), Filter{Unit: "D-1", Outcome: record.Aligned}) {
			if err != nil || !s.FoundKnown || s.TapeSeconds != 9 {
				t.Errorf("its row: %+v, %v", s, err)
			}
		}
		if _, err := book.Import(append(rec.Entries[:2:2], step(7))); !errors.Is(err, ErrDiffers) {
			t.Errorf("another run of that name: %v, want ErrDiffers", err)
		}
	})
}

func TestNotes(t *testing.T) {
	onEach(t, func(t *testing.T, p place) {
		book := p.open(t)
		run := begin(t, book, record.Start{})
		if err := book.Note(run.ID(), record.Note{Text: "too early"}); !errors.Is(err, ErrRunning) {
			t.Errorf("on a run that is being written: %v, want ErrRunning", err)
		}
		appendAll(t, run, step(1), end(record.Aligned))
		run.Close()
		var wg sync.WaitGroup
		for range 8 {
			wg.Go(func() {
				if err := book.Note(run.ID(), record.Note{By: "K", Text: "spring replaced"}); err != nil {
					t.Error(err)
				}
			})
		}
		wg.Wait()
		rec, err := book.Load(run.ID())
		if err != nil || len(rec.Entries) != 3+8 || rec.Entries[10].Note.Text != "spring replaced" || rec.End() == nil || rec.TapeSeconds() != 9 {
			t.Errorf("%v, %+v", err, rec.Entries)
		}
	})
}

func TestPruneSaysFirstAndKeepsWhatIsNeeded(t *testing.T) {
	onEach(t, func(t *testing.T, p place) {
		book := p.open(t)
		at := begun
		book.now = func() time.Time { return at }
		var names []string
		for _, start := range []record.Start{
			{Unit: "D-1", Port: "a"}, {Unit: "D-1", Port: "a"}, {Unit: "D-2", Port: "a"}, {Virtual: "default"},
			{Unit: "D-1", Port: "a"}, // the latest of D-1
		} {
			if start.Unit == "D-2" {
				start.ProofOf = names[1] // stays itself, as the latest of D-2
			}
			names = append(names, withClip(t, book, start, "12345").Run)
			at = at.Add(time.Hour)
		}
		for _, do := range []bool{false, true} {
			got, err := book.Prune(context.Background(), Filter{Until: at}, false, do)
			if err != nil {
				t.Fatal(err)
			}
			want := map[string]string{names[1]: keptProof, names[2]: keptLatest, names[4]: keptLatest}
			if len(got.Runs) != 2 || got.Runs[0].Run != names[3] || got.Runs[1].Run != names[0] || got.Clips != 2 || got.Bytes != 10 || !reflect.DeepEqual(got.Kept, want) {
				t.Errorf("do %v: %+v, want runs %s and %s with 2 clips, and kept %v", do, got, names[3], names[0], want)
			}
			left := 5
			if do {
				left = 3
			}
			clips, _ := filepath.Glob(filepath.Join(book.Dir(), "*.wav"))
			if n := count(t, book, "runs"); n != left || len(clips) != left || count(t, book, "packs") != left {
				t.Errorf("do %v: %d runs and %d clips are left, want %d", do, n, len(clips), left)
			}
		}
	})
}

func TestClipsAloneCanBePruned(t *testing.T) {
	onEach(t, func(t *testing.T, p place) {
		book := p.open(t)
		rec := withClip(t, book, record.Start{Virtual: "default"}, "x")
		if _, err := book.Prune(context.Background(), Filter{}, true, true); err != nil {
			t.Fatal(err)
		}
		if runs, said := troubles(t, book); runs != 1 || said != nil {
			t.Errorf("%d runs, %q: want the record without trouble", runs, said)
		}
		if _, err := os.Stat(filepath.Join(book.Dir(), rec.Clips()[0].Name)); !errors.Is(err, os.ErrNotExist) {
			t.Errorf("the clip: %v", err)
		}
	})
}
