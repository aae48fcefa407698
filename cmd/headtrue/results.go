package main

import (
	"errors"
	"fmt"
	"io"
	"syscall"
)

// results is standard output. It keeps the first error of a write, so that a result that
// nobody got is not taken for one that was written.
type results struct {
	to  io.Writer
	err error
}

func (r *results) Write(p []byte) (int, error) {
	n, err := r.to.Write(p)
	if err != nil && r.err == nil {
		r.err = err
	}
	return n, err
}

// failure is what kept a result from being written, nil if nothing did. A reader that
// wants no more, as head does, is no failure.
func (r *results) failure() error {
	if r.err == nil || errors.Is(r.err, syscall.EPIPE) {
		return nil
	}
	return &failure{code: exitUnexpected, err: fmt.Errorf("the result could not be written: %w", r.err), do: "make room, or write it elsewhere"}
}
