package terminal

import (
	"fmt"
	"io"
	"strings"
	"sync"
	"unicode/utf8"
)

// Screen is standard error. On a terminal a line can be written over while it
// is the last one. Control characters are spelt out. Errors of writing are not looked at: if
// nobody reads the progress, the job goes on all the same.
type Screen struct {
	To       io.Writer
	Terminal bool

	mu      sync.Mutex
	columns int // of the last line where it may be written over
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

// Over writes a line over the last one that Over wrote, if nothing came in
// between; elsewhere than on a terminal it is a line like any other.
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
