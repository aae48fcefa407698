package terminal

import (
	"errors"
	"fmt"
	"io"
	"syscall"
)

// Results is standard output. It keeps the first error of a write, so that a result that did
// not arrive does not count as written.
type Results struct {
	To  io.Writer
	err error
}

// Write implements io.Writer.
func (r *Results) Write(p []byte) (int, error) {
	n, err := r.To.Write(p)
	if err != nil && r.err == nil {
		r.err = err
	}
	return n, err
}

// Failure is the error that kept a result from being written; nil if there is none. A reader
// that stops reading, as head does, is not a failure.
func (r *Results) Failure() error {
	if r.err == nil || errors.Is(r.err, syscall.EPIPE) {
		return nil
	}
	return fmt.Errorf("the result could not be written: %w", r.err)
}
