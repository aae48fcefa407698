package terminal

import (
	"fmt"
	"io"
	"os"
	"strconv"
	"strings"
	"sync"
	"unicode/utf8"

	"golang.org/x/term"
)

// Columns is the width for text that a person reads: what the variable COLUMNS says, else that
// of the terminal, else 80; from 40 to 200.
func Columns(out *os.File) int {
	columns, err := strconv.Atoi(os.Getenv("COLUMNS"))
	if err != nil || columns <= 0 {
		columns = 80
		if width, _, err := term.GetSize(int(out.Fd())); err == nil && width > 0 {
			columns = width
		}
	}
	return min(max(columns, 40), 200)
}

// Screen is standard error. On a terminal, Over can overwrite the last line. Control characters
// are escaped. Write errors are ignored: if nobody reads the progress, the job still goes on.
type Screen struct {
	To       io.Writer
	Terminal bool

	mu      sync.Mutex
	columns int // width of the last line if it may be overwritten
}

// Write implements io.Writer.
func (s *Screen) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.columns > 0 {
		fmt.Fprintln(s.To)
		s.columns = 0
	}
	return Printable{s.To}.Write(p)
}

// Over writes a line in place of the last one that Over wrote, if nothing came in between;
// without a terminal it writes an ordinary line.
func (s *Screen) Over(line string) {
	if !s.Terminal {
		fmt.Fprintln(s, line)
		return
	}
	line = spelt(line)
	s.mu.Lock()
	defer s.mu.Unlock()
	columns := utf8.RuneCountInString(line)
	fmt.Fprint(s.To, "\r", line, strings.Repeat(" ", max(s.columns-columns, 0)))
	s.columns = max(columns, s.columns)
}
