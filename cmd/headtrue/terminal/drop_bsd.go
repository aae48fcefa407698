//go:build unix && !linux

package terminal

import (
	"os"

	"golang.org/x/sys/unix"
)

// fread is FREAD of sys/fcntl.h: the input queue.
const fread = 1

// dropTyped discards what was typed and not yet read.
func dropTyped(tty *os.File) error {
	return unix.IoctlSetPointerInt(int(tty.Fd()), unix.TIOCFLUSH, fread)
}
