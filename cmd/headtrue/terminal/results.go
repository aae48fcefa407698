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
	To io.Writer
	Display
	Beside *Screen // on which a passing line must not stay; may be nil
	err    error
}

// Write implements io.Writer, for a result that a person reads.
func (r *Results) Write(p []byte) (int, error) {
	if err := r.write(r.paintVerdicts(r.show(string(p)))); err != nil {
		return 0, err
	}
	return len(p), nil
}

// Data writes a result that a program reads: no character is replaced.
func (r *Results) Data() io.Writer { return Printable{data{r}} }

type data struct{ of *Results }

func (d data) Write(p []byte) (int, error) { return len(p), d.of.write(string(p)) }

func (r *Results) write(text string) error {
	if r.Beside != nil {
		r.Beside.clear()
	}
	_, err := io.WriteString(r.To, text)
	if err != nil && r.err == nil {
		r.err = err
	}
	return err
}

// Failure is the error that kept a result from being written; nil if there is none. A reader
// that stops reading, as head does, is not a failure.
func (r *Results) Failure() error {
	if r.err == nil || errors.Is(r.err, syscall.EPIPE) {
		return nil
	}
	return fmt.Errorf("the result could not be written: %w", r.err)
}
