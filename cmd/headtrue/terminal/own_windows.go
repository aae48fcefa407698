package terminal

import (
	"os"

	"golang.org/x/sys/windows"
)

// openTerminal opens the console of the process, independent of standard input and output.
func openTerminal() (in, out *os.File, err error) {
	in, err = os.OpenFile("CONIN$", os.O_RDWR, 0)
	if err != nil {
		return nil, nil, err
	}
	out, err = os.OpenFile("CONOUT$", os.O_RDWR, 0)
	if err != nil {
		_ = in.Close()
		return nil, nil, err
	}
	return in, out, nil
}

// dropTyped discards what was typed and not yet read.
func dropTyped(console *os.File) error {
	return windows.FlushConsoleInputBuffer(windows.Handle(console.Fd()))
}
