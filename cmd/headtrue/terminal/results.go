package terminal

import (
	"errors"
	"fmt"
	"io"
	"syscall"
)

// Results is standard output. It keeps the first error of a write, so that a result that
// nobody got is not taken for one that was written.
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

// Failure is what kept a result from being written, nil if nothing did. A reader that
// wants no more, as head does, is no failure.
func (r *Results) Failure() error {
	if r.err == nil || errors.Is(r.err, syscall.EPIPE) {
		return nil
	}
	return fmt.Errorf("the result could not be written: %w", r.err)
}
