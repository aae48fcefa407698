//go:build unix

package logbook

import (
	"errors"
	"fmt"
	"os"

	"golang.org/x/sys/unix"
)

// lock marks the file as being written for as long as it is open. A process
// that dies lets go of it.
func lock(file *os.File) error {
	err := unix.Flock(int(file.Fd()), unix.LOCK_EX|unix.LOCK_NB)
	if err != nil && !errors.Is(err, unix.ENOLCK) && !errors.Is(err, unix.ENOTSUP) {
		return fmt.Errorf("lock %s: %w", file.Name(), err)
	}
	return nil
}

// locked says whether some process has the file open for writing.
func locked(file *os.File) bool {
	err := unix.Flock(int(file.Fd()), unix.LOCK_SH|unix.LOCK_NB)
	return errors.Is(err, unix.EWOULDBLOCK)
}

// syncFolder makes the name of a new file durable.
func syncFolder(dir string) error {
	folder, err := os.Open(dir)
	if err != nil {
		return err
	}
	defer folder.Close()
	if err := folder.Sync(); err != nil && !errors.Is(err, unix.EINVAL) && !errors.Is(err, unix.ENOTSUP) {
		return fmt.Errorf("sync the folder %s: %w", dir, err)
	}
	return nil
}
