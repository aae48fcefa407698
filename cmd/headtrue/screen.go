package main

import (
	"fmt"
	"io"
	"strings"
	"sync"
	"unicode/utf8"
)

// screen is standard error. On a terminal a line can be written over while it
// is the last one. Control characters are spelt out. Errors of writing are not looked at: where nobody reads the
// progress the job goes on all the same.
type screen struct {
	to       io.Writer
	terminal bool

	mu      sync.Mutex
	columns int // of the last line where it may be written over
}

// Write implements io.Writer.
func (s *screen) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.columns > 0 {
		fmt.Fprintln(s.to)
		s.columns = 0
	}
	return printable{s.to}.Write(p)
}

// over writes a line over the last one that over wrote, if nothing came in
// between; elsewhere than on a terminal it is a line like any other.
func (s *screen) over(line string) {
	if !s.terminal {
		fmt.Fprintln(s, line)
		return
	}
	line = spelt(line)
	s.mu.Lock()
	defer s.mu.Unlock()
	columns := utf8.RuneCountInString(line)
	fmt.Fprint(s.to, "\r", line, strings.Repeat(" ", max(s.columns-columns, 0)))
	s.columns = max(columns, s.columns)
}
