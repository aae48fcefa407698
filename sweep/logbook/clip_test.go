package logbook

import (
	"context"
	"database/sql"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"headtrue/sweep/record"
)

// smuggle puts a run into the store unchecked.
func smuggle(t testing.TB, book *Book, entries ...record.Entry) {
	t.Helper()
	ctx := context.Background()
	err := book.atomically(ctx, func(tx *sql.Tx) error {
		id, err := insertRun(ctx, tx, entries[0])
		if err != nil {
			return err
		}
		for n, e := range entries {
			if err := insertEntry(ctx, tx, id, n, e); err != nil {
				return err
			}
		}
		return pack(ctx, tx, id)
	})
	if err != nil {
		t.Fatal(err)
	}
}

// crafted is a run from an untrusted source, with a clip of that name.
func crafted(run, clip string) []record.Entry {
	return []record.Entry{
		{Kind: record.KindStart, At: "2024-05-06T07:08:09.123Z", Start: &record.Start{Version: 1, Run: run, Virtual: "default"}},
		{Kind: record.KindClip, Clip: &record.Clip{Name: clip, Bytes: 8}},
		end(record.Aligned),
	}
}

// canary is a file outside the logbook that must not be read, changed or removed.
func canary(t testing.TB, book *Book) (path string, alive func() bool) {
	path = filepath.Join(filepath.Dir(book.Dir()), "canary.wav")
	if err := os.WriteFile(path, []byte("alive"), 0o600); err != nil {
		t.Fatal(err)
	}
	return path, func() bool {
		text, err := os.ReadFile(path)
		return err == nil && string(text) == "alive"
	}
}

// Records are untrusted: whatever the name of a clip, no file outside the logbook is
// removed, overwritten or copied, not even through a link.
func TestNamesOfClipsAreNoPaths(t *testing.T) {
	onEach(t, func(t *testing.T, p place) {
		book := p.open(t)
		path, alive := canary(t, book)
		names := []string{"../canary.wav", path, "link.wav", "running/../../canary.wav", "logbook.db", "folder.wav", ""}
		if err := os.Symlink(path, filepath.Join(book.Dir(), "link.wav")); err != nil {
			t.Fatal(err)
		}
		if err := os.Mkdir(filepath.Join(book.Dir(), "folder.wav"), 0o755); err != nil {
			t.Fatal(err)
		}
		for i, name := range names {
			run := string('a' + rune(i))
			if strings.HasSuffix(name, ".wav") && filepath.Base(name) == name {
				os.Rename(filepath.Join(book.Dir(), name), filepath.Join(book.Dir(), run+"-"+name))
				name = run + "-" + name
			}
			smuggle(t, book, crafted(run, name)...)
		}
		_, said := troubles(t, book)
		if len(said) < len(names) {
			t.Errorf("check tells %q, want one trouble at least for each of %q", said, names)
		}
		dir := filepath.Join(filepath.Dir(book.Dir()), "backup", "deep")
		if err := os.MkdirAll(dir, 0o755); err != nil {
			t.Fatal(err)
		}
		var told []string
		if _, err := book.Backup(context.Background(), dir, func(tr Trouble) { told = append(told, tr.Run+" "+tr.Say) }); err != nil {
			t.Error(err)
		}
		if len(told) < len(names) {
			t.Errorf("backup tells %q, want one trouble at least for each of %q", told, names)
		}
		for _, f := range append(filesIn(t, dir), filesIn(t, filepath.Dir(dir))...) {
			if strings.HasSuffix(f, ".wav") {
				t.Errorf("the backup has written %s", f)
			}
		}
		if _, err := book.Prune(context.Background(), Filter{}, false, true); err != nil {
			t.Error(err)
		}
		if !alive() {
			t.Errorf("%s is not as it was", path)
		}
		if _, err := os.Lstat(filepath.Join(book.Dir(), "c-link.wav")); err != nil {
			t.Error("a link was removed that no run has made")
		}
		if runs, err := book.Check(context.Background(), func(Trouble) {}); runs != 0 || err != nil {
			t.Errorf("%d runs are left, %v", runs, err)
		}
	})
}

func filesIn(t testing.TB, dir string) (names []string) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		names = append(names, e.Name())
	}
	return names
}

// A run's clips bear its name: pruning a run that names clips of another does not remove
// those.
func TestARunTakesOutItsOwnClipsOnly(t *testing.T) {
	onEach(t, func(t *testing.T, p place) {
		book := p.open(t)
		rec := withClip(t, book, record.Start{Unit: "D-1"}, "sound")
		kept := filepath.Join(book.Dir(), rec.Clips()[0].Name)
		smuggle(t, book, crafted("other", rec.Clips()[0].Name)...)
		second := filepath.Join(book.Dir(), rec.Run+"-002-as-found.wav")
		if err := os.WriteFile(second, []byte("sound"), 0o644); err != nil {
			t.Fatal(err)
		}
		if _, err := book.Prune(context.Background(), Filter{Virtual: true}, false, true); err != nil {
			t.Fatal(err)
		}
		if _, err := os.Stat(kept); err != nil {
			t.Errorf("the clip of another run: %v", err)
		}
		if !ownClip("x", "x-as-found.wav") || ownClip("x", "y-as-found.wav") || ownClip("x", "x.wav") ||
			ownClip(rec.Run, filepath.Base(second)) || !ownClip(rec.Run+"-002", filepath.Base(second)) {
			t.Error("whose a clip is goes by its name")
		}
	})
}

func TestABackupTellsOfDamagedClips(t *testing.T) {
	onEach(t, func(t *testing.T, p place) {
		book := p.open(t)
		rec := withClip(t, book, record.Start{}, "sound")
		name := rec.Clips()[0].Name
		if err := os.WriteFile(filepath.Join(book.Dir(), name), []byte("sOund"), 0o644); err != nil {
			t.Fatal(err)
		}
		var told []Trouble
		dir := filepath.Join(t.TempDir(), "backup")
		runs, err := book.Backup(context.Background(), dir, func(tr Trouble) { told = append(told, tr) })
		if runs != 1 || err != nil || len(told) != 1 || told[0].Clip != name || !strings.Contains(told[0].Say, "not as it was recorded") {
			t.Errorf("%d runs, %v, %+v: want the damaged clip told", runs, err, told)
		}
		if text, err := os.ReadFile(filepath.Join(dir, name)); err != nil || string(text) != "sOund" {
			t.Errorf("what is left of it is not in the backup: %q, %v", text, err)
		}
	})
}
