package logbook

import (
	"errors"
	"io/fs"
	"syscall"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

// causedError is an error of the engine together with its cause in the system, for which
// callers test.
type causedError struct{ err, cause error }

func (e *causedError) Error() string   { return e.err.Error() }
func (e *causedError) Unwrap() []error { return []error{e.err, e.cause} }

// withCause adds the system's error to an error of SQLite, as far as its code identifies
// it (SQLite, Result and Error Codes).
func withCause(err error) error {
	var s *sqlite.Error
	if !errors.As(err, &s) {
		return err
	}
	switch code := s.Code(); {
	case code == sqlite3.SQLITE_FULL, code == sqlite3.SQLITE_IOERR_WRITE:
		return &causedError{err, syscall.ENOSPC}
	case code&0xff == sqlite3.SQLITE_READONLY, code&0xff == sqlite3.SQLITE_PERM, code&0xff == sqlite3.SQLITE_AUTH:
		return &causedError{err, fs.ErrPermission}
	case code&0xff == sqlite3.SQLITE_IOERR:
		return &causedError{err, syscall.EIO}
	}
	return err
}
