package kept

import (
	"errors"
	"math"
	"os"

	"golang.org/x/sys/windows"
)

// tryLock locks a file for this process: a byte beyond its text, so that others can read that.
func tryLock(file *os.File) error {
	err := windows.LockFileEx(windows.Handle(file.Fd()), windows.LOCKFILE_EXCLUSIVE_LOCK|windows.LOCKFILE_FAIL_IMMEDIATELY,
		0, 1, 0, &windows.Overlapped{Offset: math.MaxInt32})
	if errors.Is(err, windows.ERROR_LOCK_VIOLATION) {
		return errHeld
	}
	return err
}
