//go:build unix

package terminal

import (
	"io"
	"os"
)

// openTerminal opens the terminal that the program runs in, whatever standard
// input and output are.
func openTerminal() (*os.File, io.Writer, error) {
	tty, err := os.OpenFile("/dev/tty", os.O_RDWR, 0)
	return tty, tty, err
}
