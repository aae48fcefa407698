package terminal

import (
	"os"

	"golang.org/x/sys/unix"
)

// dropTyped forgets what was typed and not yet read.
func dropTyped(tty *os.File) error {
	return unix.IoctlSetInt(int(tty.Fd()), unix.TCFLSH, unix.TCIFLUSH)
}
