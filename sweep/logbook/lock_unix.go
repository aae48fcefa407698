//go:build unix

package logbook

import (
	"errors"
	"fmt"
	"os"

	"golang.org/x/sys/unix"
)

// lockWaiting waits until no other process holds the file, and holds it while it is open.
// A process that dies releases it.
func lockWaiting(file *os.File) error { return flock(file, unix.LOCK_EX) }

func flock(file *os.File, how int) error {
	err := unix.Flock(int(file.Fd()), how)
	if err != nil && !errors.Is(err, unix.ENOLCK) && !errors.Is(err, unix.ENOTSUP) {
		return fmt.Errorf("lock %s: %w", file.Name(), err)
	}
	return nil
}

// locked reports whether a process holds the file.
func locked(file *os.File) bool {
	err := unix.Flock(int(file.Fd()), unix.LOCK_SH|unix.LOCK_NB)
	return errors.Is(err, unix.EWOULDBLOCK)
}

// lockedNow locks a file that no process holds, and reports whether it did. It never does
// on file systems without locks.
func lockedNow(file *os.File) bool {
	return unix.Flock(int(file.Fd()), unix.LOCK_EX|unix.LOCK_NB) == nil
}
