package logbook

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"syscall"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"headtrue/sweep/record"
)

// sqliteFile is the logbook's file in its folder.
const sqliteFile = "logbook.db"

// oldestSQLite is the first version in which a reset of the log while another process
// writes cannot corrupt the file (release notes of SQLite 3.51.3).
var oldestSQLite = [3]int{3, 51, 3}

// sqliteSettings: a save waits for others and is on the disk when it returns, on macOS
// too; readers do not block it. Write-ahead logging works on one machine only: no network
// drives.
var sqliteSettings = []string{"busy_timeout(8000)", "journal_mode(wal)", "synchronous(full)", "fullfsync(1)",
	"checkpoint_fullfsync(1)", "foreign_keys(1)"}

type sqliteEngine struct {
	db   *sql.DB
	root *os.Root // its folder
}

func (b *Book) openSQLite(ctx context.Context) error {
	if err := b.openFile(url.Values{"_pragma": sqliteSettings, "_txlock": {"immediate"}}); err != nil {
		return err
	}
	return damagedStore(checkSQLite(ctx, b.db))
}

func (b *Book) openFile(how url.Values) error {
	file, err := filepath.Abs(filepath.Join(b.dir, sqliteFile))
	if err != nil {
		return err
	}
	path := filepath.ToSlash(file)
	if !strings.HasPrefix(path, "/") {
		path = "/" + path // a drive letter
	}
	source := url.URL{Scheme: "file", Path: path, RawQuery: how.Encode()}
	if b.db, err = sql.Open("sqlite", source.String()); err != nil {
		return err
	}
	b.engine = sqliteEngine{b.db, b.root}
	return nil
}

// damagedStore marks an error of SQLite that means a damaged file.
func damagedStore(err error) error {
	var s *sqlite.Error
	if errors.As(err, &s) && (s.Code()&0xff == sqlite3.SQLITE_CORRUPT || s.Code()&0xff == sqlite3.SQLITE_NOTADB) {
		return fmt.Errorf("%w: %w", ErrDamaged, err)
	}
	return err
}

// checkSQLite returns an error if the engine is too old or does not apply the settings:
// it ignores a misspelt one silently.
func checkSQLite(ctx context.Context, db *sql.DB) error {
	var version, journal string
	var synchronous, wait int
	for query, into := range map[string]any{"SELECT sqlite_version()": &version, "PRAGMA journal_mode": &journal,
		"PRAGMA synchronous": &synchronous, "PRAGMA busy_timeout": &wait} {
		if err := db.QueryRowContext(ctx, query).Scan(into); err != nil {
			return fmt.Errorf("%s: %w", query, err)
		}
	}
	var have [3]int
	if _, err := fmt.Sscanf(version, "%d.%d.%d", &have[0], &have[1], &have[2]); err != nil {
		return fmt.Errorf("the SQLite engine calls itself %q: %w", version, err)
	}
	const full = 2
	switch {
	case older(have, oldestSQLite):
		return fmt.Errorf("the SQLite engine is %s, and before 3.51.3 it can corrupt a file that two processes write: build headtrue anew", version)
	case journal != "wal" || synchronous != full || wait == 0:
		return fmt.Errorf("the file cannot be kept as it must: journal %q, synchronous %d, wait %d ms; is the folder on a network drive?", journal, synchronous, wait)
	}
	return nil
}

func older(a, b [3]int) bool {
	for i := range a {
		if a[i] != b[i] {
			return a[i] < b[i]
		}
	}
	return false
}

// intact checks the file, and that each row belongs to a run.
func (e sqliteEngine) intact(ctx context.Context) error {
	wrong, err := e.said(ctx, "PRAGMA integrity_check(10)", 1, func(said []any) string { return fmt.Sprint(said[0]) })
	if err != nil {
		return err
	}
	orphans, err := e.said(ctx, "PRAGMA foreign_key_check", 4, func(said []any) string {
		return fmt.Sprintf("%v: row %v belongs to no run", said[0], said[1])
	})
	return errors.Join(append(append(wrong, orphans...), err)...)
}

// said returns the faults that SQLite reports, one error for each row.
func (e sqliteEngine) said(ctx context.Context, query string, columns int, say func([]any) string) (wrong []error, err error) {
	rows, err := e.db.QueryContext(ctx, query)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for rows.Next() {
		said, to := make([]any, columns), make([]any, columns)
		for i := range to {
			to[i] = &said[i]
		}
		if err := rows.Scan(to...); err != nil {
			return nil, err
		}
		if text := say(said); text != "ok" && len(wrong) < 10 {
			wrong = append(wrong, errors.New(text))
		}
	}
	return wrong, rows.Err()
}

func (e sqliteEngine) full(err error) bool {
	var s *sqlite.Error
	if !errors.As(err, &s) {
		return false
	}
	switch s.Code() {
	case sqlite3.SQLITE_FULL, sqlite3.SQLITE_BUSY, sqlite3.SQLITE_IOERR_WRITE:
		return true
	}
	return false
}

// runningFolder holds a locked file for each run being written. openingFile is locked
// while the tables may change.
const (
	runningFolder = "running"
	openingFile   = ".opening"
)

func (e sqliteEngine) hold(_ context.Context, run string, _ int64) (func() error, error) {
	if err := e.root.MkdirAll(runningFolder, 0o755); err != nil {
		return nil, err
	}
	name := runningFolder + "/" + run
	for range 100 {
		file, err := e.root.OpenFile(name, os.O_CREATE|os.O_RDWR, 0o644)
		if err != nil {
			return nil, err
		}
		if err := lockWaiting(file); err != nil {
			return nil, errors.Join(err, file.Close())
		}
		if stillNamed(e.root, name, file) {
			return func() error { return errors.Join(file.Close(), e.root.Remove(name)) }, nil
		}
		file.Close() // it was removed meanwhile
	}
	return nil, fmt.Errorf("run %s cannot be marked as being written", run)
}

// stillNamed reports whether a name of the folder is still that of an open file.
func stillNamed(root *os.Root, name string, file *os.File) bool {
	opened, err1 := file.Stat()
	named, err2 := root.Lstat(name)
	return err1 == nil && err2 == nil && os.SameFile(opened, named)
}

func (e sqliteEngine) held(_ context.Context, run string, _ int64) (bool, error) {
	if record.ValidRunName(run) != nil {
		return false, nil // no program begins a run of such a name
	}
	file, err := e.root.OpenFile(runningFolder+"/"+run, os.O_RDONLY|syscall.O_NONBLOCK, 0)
	if errors.Is(err, os.ErrNotExist) {
		return false, nil
	}
	if err != nil {
		return false, err
	}
	defer file.Close()
	return locked(file), nil
}

func (e sqliteEngine) migrating(_ context.Context, do func() error) error {
	file, err := e.root.OpenFile(openingFile, os.O_CREATE|os.O_RDWR, 0o644)
	if err != nil {
		return err
	}
	defer file.Close()
	if err := lockWaiting(file); err != nil {
		return err
	}
	return do()
}
