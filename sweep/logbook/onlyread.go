package logbook

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"time"
)

// aStore returns ErrEmpty if a folder holds no logbook, and ErrDamaged if its file is
// empty. It waits for a logbook that is just being made.
func aStore(dir string) error {
	for range 20 {
		is, err := os.Stat(filepath.Join(dir, sqliteFile))
		if errors.Is(err, fs.ErrNotExist) {
			return fmt.Errorf("%s: %w", dir, ErrEmpty)
		}
		if err != nil || is.Size() > 0 || hasLog(dir) {
			return nil // opening it reports other errors
		}
		time.Sleep(50 * time.Millisecond)
	}
	return fmt.Errorf("open the logbook %s: %w: %s has 0 bytes", dir, ErrDamaged, sqliteFile)
}

// hasLog reports whether SQLite's log holds saves that are not in its file yet.
func hasLog(dir string) bool {
	is, err := os.Stat(filepath.Join(dir, sqliteFile+"-wal"))
	return err == nil && is.Size() > 0
}

// mayWrite reports whether this user may write the logbook in a folder.
func mayWrite(dir string) bool {
	for name, how := range map[string]int{sqliteFile: os.O_RDWR, openingFile: os.O_RDWR | os.O_CREATE} {
		file, err := os.OpenFile(filepath.Join(dir, name), how, 0o644)
		if err != nil {
			return false
		}
		file.Close()
	}
	return true
}

// openToRead opens a file in a folder, neither of which may be written. Without a log
// nothing is writing it, and SQLite need not check for other processes.
func (b *Book) openToRead(ctx context.Context) error {
	b.onlyToRead = true
	how := url.Values{"mode": {"ro"}, "_pragma": {"busy_timeout(8000)"}}
	if !hasLog(b.dir) {
		how.Set("immutable", "1")
	}
	if err := b.openFile(how); err != nil {
		return err
	}
	has, err := b.version(ctx)
	known := knownVersion()
	switch {
	case err != nil:
		return fmt.Errorf("it may not be written, and so it cannot be read; a copy of the folder can: %w", damagedStore(err))
	case has > known:
		return &NewerError{"the logbook", has, known}
	case has < known:
		return fmt.Errorf("it is in format %d and must be brought up to %d, but may not be written: open a copy of the folder", has, known)
	}
	return nil
}
