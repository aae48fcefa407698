package terminal

import (
	"fmt"
	"io"
	"sync"
	"time"

	"headtrue/jig/fault"
	"headtrue/sweep/sheet/chars"
)

// Screen is standard error. Lines are broken to fit a terminal, and Over and Passing write over
// the last line. Write errors are ignored: if nobody reads the progress, the job still goes on.
type Screen struct {
	To io.Writer
	Display

	mu     sync.Mutex
	open   bool // the last line may be written over
	passes bool // and goes when something else is written
	asks   bool // a question stands: nothing is written over it
}

// Write implements io.Writer.
func (s *Screen) Write(p []byte) (int, error) {
	if err := s.put(string(p), ""); err != nil {
		return 0, err
	}
	return len(p), nil
}

// Print writes a text in a colour.
func (s *Screen) Print(text string, c Colour) { _ = s.put(text, c) }

func (s *Screen) put(text string, c Colour) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.leave()
	_, err := io.WriteString(s.To, s.paintVerdicts(s.paint(s.fit(s.show(text)), c)))
	return err
}

// eraseLine goes back to the first column and erases the line (ECMA-48, EL).
const eraseLine = "\r\x1b[K"

// leave goes on to a new line, or removes a line that was only passing.
func (s *Screen) leave() {
	switch {
	case s.open && s.passes:
		fmt.Fprint(s.To, eraseLine)
	case s.open:
		fmt.Fprintln(s.To)
	}
	s.open = false
}

// Over writes a line in place of the last one that Over or Passing wrote, if nothing came in
// between; it stays when something else is written. Where no line can be written over, it is
// an ordinary line.
func (s *Screen) Over(line string) {
	if !s.Rewrites {
		fmt.Fprintln(s, line)
		return
	}
	s.over(line, false)
}

// Passing is Over with a line that is removed when something else is written. Where no line can
// be written over, and while a question stands, it writes nothing.
func (s *Screen) Passing(line string) {
	if s.Rewrites {
		s.over(line, true)
	}
}

func (s *Screen) over(line string, passes bool) {
	line = chars.Cut(s.show(line), s.Columns())
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.asks {
		return
	}
	if s.open && !s.passes && passes {
		s.leave()
	}
	fmt.Fprint(s.To, eraseLine, line)
	s.open, s.passes = true, passes
}

// During shows what is being done, with its seconds, if it takes longer than one, until stop is
// called.
func (s *Screen) During(what string) (stop func()) {
	if !s.Rewrites {
		return func() {}
	}
	done, gone := make(chan struct{}), make(chan struct{})
	go func() { // ends with stop
		defer close(gone)
		defer fault.Recovered(func(error) {}) // the work goes on unseen
		tick := time.NewTicker(time.Second)
		defer tick.Stop()
		for seconds := 1; ; seconds++ {
			select {
			case <-tick.C:
				s.Passing(fmt.Sprintf("%s ... %d s", what, seconds))
			case <-done:
				return
			}
		}
	}()
	return func() {
		close(done)
		<-gone
		s.clear()
	}
}

// clear removes a passing line.
func (s *Screen) clear() {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.passes {
		s.leave()
	}
}

// hold keeps what is passing away from a question until release is called.
func (s *Screen) hold() (release func()) {
	set := func(asks bool) {
		s.mu.Lock()
		defer s.mu.Unlock()
		s.asks = asks
	}
	set(true)
	return func() { set(false) }
}
