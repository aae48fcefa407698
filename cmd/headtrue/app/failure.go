package app

import (
	"errors"
	"fmt"

	"headtrue/cmd/headtrue/app/kept"
	"headtrue/sweep/record"
	"headtrue/sweep/session"
	"headtrue/sweep/sheet"
)

// Failure is the reason why something was not done, and the remedy.
type Failure struct {
	// Outcome is the outcome of a run that ends with this failure; "" means that the request
	// itself is wrong, and nothing was done.
	Outcome record.Outcome
	Err     error
	Do      string // may be empty
}

func (f *Failure) Error() string { return f.Err.Error() }

// Unwrap returns the underlying error.
func (f *Failure) Unwrap() error { return f.Err }

// Wrong is the failure of a wrong request: of a command line, of settings.
func Wrong(format string, args ...any) error {
	return &Failure{Err: fmt.Errorf(format, args...)}
}

// NotReady is the failure of something that could not be opened.
func NotReady(do, format string, args ...any) error {
	return &Failure{Outcome: record.NotReady, Err: fmt.Errorf(format, args...), Do: do}
}

// DeckFailure is the failure of a virtual deck that could not be run.
func DeckFailure(err error) error {
	var busy *kept.BusyError
	if errors.As(err, &busy) {
		return NotReady("wait until that command has ended, or make another deck (headtrue bench --keep)", "%w", err)
	}
	return Wrong("%w", err)
}

// NotBegun is the failure of a job that a person stopped before anything moved.
func NotBegun(format string, args ...any) error {
	return &Failure{Outcome: record.Interrupted, Err: fmt.Errorf("not begun: "+format, args...)}
}

// notSaved is the failure of a logbook that did not accept a run.
func notSaved(err error) error {
	return &Failure{Outcome: record.NotSaved, Err: err, Do: session.WhatToDoUnsaved(err)}
}

// Ended is the failure of a run that ended with a bad outcome; nil after a good end.
func Ended(e record.End) error {
	if e.Outcome.Good() {
		return nil
	}
	return &Failure{Outcome: e.Outcome, Err: errors.New(Said(e)), Do: e.Do}
}

// Said is how a run ended, beginning with where the screw stands.
func Said(e record.End) string {
	if stands := sheet.NotSet(e); stands != "" {
		return stands + " " + sheet.Capital(e.Say)
	}
	return e.Say
}
