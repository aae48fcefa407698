package logbook

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/klauspost/compress/zstd"

	"headtrue/sweep/record"
)

// orphaned is a logbook of one run plus a pack and an entry without a run.
func orphaned(t *testing.T) *Book {
	book := place{where: t.TempDir()}.openAt(t, begun)
	withClip(t, book, record.Start{}, "sound")
	conn, err := book.db.Conn(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	for _, order := range []string{"PRAGMA foreign_keys = 0", "INSERT INTO packs SELECT 99, entries, body FROM packs",
		"INSERT INTO entries VALUES (98, 0, 'x')", "PRAGMA foreign_keys = 1"} {
		if _, err := conn.ExecContext(context.Background(), order); err != nil {
			t.Fatal(err)
		}
	}
	return book
}

func TestCheckAndBackupFindWhatBelongsToNoRun(t *testing.T) {
	book := orphaned(t)
	_, said := troubles(t, book)
	var told []string
	_, err := book.Backup(context.Background(), filepath.Join(t.TempDir(), "b"), func(tr Trouble) { told = append(told, tr.Say) })
	for by, all := range map[string]string{"check": strings.Join(said, "\n"), "backup": strings.Join(told, "\n")} {
		if !strings.Contains(all, "packs: row 99 belongs to no run") || !strings.Contains(all, "entries: row") || err != nil {
			t.Errorf("%s tells %q, %v", by, all, err)
		}
	}
}

func TestAnEntryThatIsMissingIsFound(t *testing.T) {
	onEach(t, func(t *testing.T, p place) {
		book := p.open(t)
		run := begin(t, book, record.Start{})
		appendAll(t, run, step(1), step(2), step(3))
		if err := run.Close(); err != nil {
			t.Fatal(err)
		}
		if _, err := book.db.Exec("DELETE FROM entries WHERE n = 2"); err != nil {
			t.Fatal(err)
		}
		if _, said := troubles(t, book); len(said) != 1 || !strings.Contains(said[0], "entry 3 follows on 1") {
			t.Errorf("told: %q", said)
		}
	})
}

func TestAnEmptyFileIsNoLogbook(t *testing.T) {
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, sqliteFile), nil, 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := OpenExisting(dir, ""); !errors.Is(err, ErrDamaged) {
		t.Errorf("got %v, want ErrDamaged", err)
	}
	if is, err := os.Stat(filepath.Join(dir, sqliteFile)); err != nil || is.Size() != 0 {
		t.Errorf("it was written to: %v, %v", is, err)
	}
	if err := os.WriteFile(filepath.Join(dir, sqliteFile), []byte(strings.Repeat("no logbook. ", 1000)), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := OpenExisting(dir, ""); !errors.Is(err, ErrDamaged) {
		t.Errorf("a file of something else: got %v, want ErrDamaged", err)
	}
}

// A row with a wrong type of value is reported, and the rows after it are listed.
func TestOneBadRowHidesNoOther(t *testing.T) {
	for what, order := range map[string]string{
		"a text for a time":   "UPDATE runs SET begun_ms = 'x' WHERE id = 2",
		"no command":          "UPDATE runs SET command = x'ff', trial = 'many' WHERE id = 2",
		"an infinite figure":  "UPDATE runs SET tape_s = 9e999 WHERE id = 2",
		"an entry of its own": "UPDATE packs SET body = x'00' WHERE run = 2",
	} {
		book := place{where: t.TempDir()}.openAt(t, begun)
		for range 3 {
			withClip(t, book, record.Start{}, "sound")
		}
		if _, err := book.db.Exec(order); err != nil {
			t.Fatal(what, err)
		}
		runs, said := troubles(t, book)
		if runs != 3 || len(said) != 1 || !strings.HasPrefix(said[0], "20240506T070809Z-002 ") {
			t.Errorf("%s: check reads %d runs and tells %q, want the second of three", what, runs, said)
		}
		listed, wrong := 0, 0
		for _, err := range book.List(context.Background(), Filter{OldestFirst: true}) {
			if listed++; err != nil {
				wrong++
			}
		}
		if want := 1; listed != 3 || wrong != want && what != "an entry of its own" {
			t.Errorf("%s: %d rows listed, %d of them wrong", what, listed, wrong)
		}
		var told []Trouble
		dir := filepath.Join(t.TempDir(), "b")
		if n, err := book.Backup(context.Background(), dir, func(tr Trouble) { told = append(told, tr) }); n != 2 || err != nil || len(told) != 1 {
			t.Errorf("%s: %d runs backed up, %v, %+v", what, n, err, told)
		}
	}
}

// A pack of 60 KB that would unpack to 2 GB is refused first.
func TestAPackCannotFillTheMemory(t *testing.T) {
	to, err := zstd.NewWriter(nil, zstd.WithEncoderDictRaw(dictionaryID, dictionary))
	if err != nil {
		t.Fatal(err)
	}
	for _, filler := range []string{" ", "\n"} {
		body := to.EncodeAll([]byte(strings.Repeat(filler, maxPacked+1)), nil)
		if all, err := unpacked(body, maxPacked+2); !errors.Is(err, errDamaged) || len(body) > 100_000 {
			t.Errorf("%q: %d bytes unpack to %d entries, %v", filler, len(body), len(all), err)
		}
	}
	body := to.EncodeAll([]byte(strings.Repeat("\n", maxPacked/2)), nil)
	if _, err := unpacked(body, maxPacked/2+1); !errors.Is(err, errDamaged) {
		t.Errorf("32 million entries: %v", err)
	}
}
