package terminal

import (
	"os"

	"golang.org/x/sys/windows"
)

// obeys reports whether a console obeys control sequences, and makes it do so.
func obeys(console *os.File) bool {
	var mode uint32
	h := windows.Handle(console.Fd())
	if os.Getenv("TERM") == "dumb" || windows.GetConsoleMode(h, &mode) != nil {
		return false
	}
	return windows.SetConsoleMode(h, mode|windows.ENABLE_VIRTUAL_TERMINAL_PROCESSING) == nil
}
