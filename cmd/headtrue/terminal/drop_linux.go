package terminal

import (
	"os"

	"golang.org/x/sys/unix"
)

// dropTyped discards what was typed and not yet read.
func dropTyped(tty *os.File) error {
	return unix.IoctlSetInt(int(tty.Fd()), unix.TCFLSH, unix.TCIFLUSH)
}
