package jig

import (
	"fmt"
	"io"
	"sync"
	"time"

	protocol "headtrue/firmware-protocol"
)

// tracer writes the frames on a line as text.
type tracer struct {
	io.ReadWriteCloser
	out, in protocol.Splitter

	mu    sync.Mutex // guards the fields below: one goroutine reads, another writes
	to    io.Writer
	began time.Time
}

// Traced returns a line that passes everything through and also writes its frames to a
// writer as text: seconds, > from the host or < from the jig, and the frame.
func Traced(line io.ReadWriteCloser, to io.Writer) io.ReadWriteCloser {
	return &tracer{ReadWriteCloser: line, to: to, began: time.Now()}
}

// Write implements io.Writer.
func (t *tracer) Write(p []byte) (int, error) {
	t.note(&t.out, ">", p)
	return t.ReadWriteCloser.Write(p)
}

// Read implements io.Reader.
func (t *tracer) Read(p []byte) (int, error) {
	n, err := t.ReadWriteCloser.Read(p)
	t.note(&t.in, "<", p[:n])
	return n, err
}

func (t *tracer) note(s *protocol.Splitter, way string, p []byte) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if len(p) == 1 && p[0] == 0 {
		t.line(way, "lone zero")
	}
	s.Feed(p, func(f protocol.Frame, err error) {
		if err != nil {
			t.line(way, fmt.Sprintf("cannot be read: %v", err))
			return
		}
		t.line(way, f.String())
	})
}

func (t *tracer) line(way, text string) {
	fmt.Fprintf(t.to, "%10.4f %s %s\n", time.Since(t.began).Seconds(), way, text)
}
