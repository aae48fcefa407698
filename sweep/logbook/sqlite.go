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

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

// sqliteFile is the logbook's file in its folder.
const sqliteFile = "logbook.db"

// oldestSQLite is the engine from which on a log that is reset while another
// process writes cannot corrupt the file (release notes of SQLite 3.51.3).
var oldestSQLite = [3]int{3, 51, 3}

// sqliteSettings: a save waits for others, is on the disk when it returns, on macOS
// too, and readers do not hinder it. Write-ahead logging is for one machine: no
// network drives.
var sqliteSettings = []string{"busy_timeout(8000)", "journal_mode(wal)", "synchronous(full)", "fullfsync(1)",
	"checkpoint_fullfsync(1)", "foreign_keys(1)"}

type sqliteEngine struct {
	db  *sql.DB
	dir string
}

func (b *Book) openSQLite(ctx context.Context) error {
	file, err := filepath.Abs(filepath.Join(b.dir, sqliteFile))
	if err != nil {
		return err
	}
	path := filepath.ToSlash(file)
	if !strings.HasPrefix(path, "/") {
		path = "/" + path // a drive letter
	}
	source := url.URL{Scheme: "file", Path: path, RawQuery: url.Values{"_pragma": sqliteSettings, "_txlock": {"immediate"}}.Encode()}
	if b.db, err = sql.Open("sqlite", source.String()); err != nil {
		return err
	}
	b.engine = sqliteEngine{b.db, b.dir}
	return checkSQLite(ctx, b.db)
}

// checkSQLite refuses an engine that is too old, and one that does not hold to the
// settings, which a misspelt one would pass over in silence.
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

func (e sqliteEngine) intact(ctx context.Context) error {
	rows, err := e.db.QueryContext(ctx, "PRAGMA integrity_check(10)")
	if err != nil {
		return err
	}
	defer rows.Close()
	var wrong []error
	for rows.Next() {
		var said string
		if err := rows.Scan(&said); err != nil {
			return err
		}
		if said != "ok" {
			wrong = append(wrong, errors.New(said))
		}
	}
	return errors.Join(append(wrong, rows.Err())...)
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

// runningFolder holds a locked file for each run that is being written.
const runningFolder = "running"

func (e sqliteEngine) hold(_ context.Context, run string, _ int64) (func() error, error) {
	folder := filepath.Join(e.dir, runningFolder)
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return nil, err
	}
	path := filepath.Join(folder, run)
	file, err := os.OpenFile(path, os.O_CREATE|os.O_RDWR, 0o644)
	if err != nil {
		return nil, err
	}
	if err := lock(file); err != nil {
		return nil, errors.Join(err, file.Close())
	}
	return func() error { return errors.Join(file.Close(), os.Remove(path)) }, nil
}

func (e sqliteEngine) held(_ context.Context, run string, _ int64) (bool, error) {
	file, err := os.Open(filepath.Join(e.dir, runningFolder, run))
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
	file, err := os.OpenFile(filepath.Join(e.dir, ".opening"), os.O_CREATE|os.O_RDWR, 0o644)
	if err != nil {
		return err
	}
	defer file.Close()
	if err := lockWaiting(file); err != nil {
		return err
	}
	return do()
}
