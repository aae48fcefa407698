//go:build linux || darwin || freebsd || openbsd || netbsd || dragonfly

package serialport

import (
	"errors"
	"fmt"
	"io"
	"os"
	"syscall"
)

// highest is the highest descriptor number on which the serial library can wait.
const highest = 1000

// lock reserves the device for this program by flock. The exclusive mode of the terminal,
// which the library sets, does not stop root.
func lock(path string) (io.Closer, error) {
	fd, err := syscall.Open(path, syscall.O_RDWR|syscall.O_NOCTTY|syscall.O_NONBLOCK|syscall.O_CLOEXEC, 0)
	if errors.Is(err, syscall.EBUSY) {
		return nil, ErrBusy
	}
	if err != nil {
		return nil, err
	}
	file := os.NewFile(uintptr(fd), path)
	if fd > highest {
		return nil, errors.Join(fmt.Errorf("too many open files: descriptor %d, at most %d can be served", fd, highest), file.Close())
	}
	if err := syscall.Flock(fd, syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
		_ = file.Close()
		if errors.Is(err, syscall.EWOULDBLOCK) {
			return nil, ErrBusy
		}
		return nil, fmt.Errorf("locking: %w", err)
	}
	return file, nil
}
