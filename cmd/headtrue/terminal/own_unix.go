//go:build unix

package terminal

import (
	"os"
)

// openTerminal opens the terminal of the process, independent of standard input and output.
func openTerminal() (in, out *os.File, err error) {
	tty, err := os.OpenFile("/dev/tty", os.O_RDWR, 0)
	return tty, tty, err
}
