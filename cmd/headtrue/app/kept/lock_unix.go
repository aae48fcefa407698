//go:build unix

package kept

import (
	"errors"
	"os"

	"golang.org/x/sys/unix"
)

// tryLock locks a file for this process.
func tryLock(file *os.File) error {
	err := unix.Flock(int(file.Fd()), unix.LOCK_EX|unix.LOCK_NB)
	if errors.Is(err, unix.EWOULDBLOCK) {
		return errHeld
	}
	return err
}
