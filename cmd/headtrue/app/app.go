// Package app is a run as any front end needs it: settings -> bench -> run -> logbook. It
// opens port and sound, or the virtual bench; asks whoever is there; keeps what is recorded;
// looks at what the last run left, and which run a restore goes back behind; learns of a
// unit; and holds the policy on who may move what: nothing turns before the cautions are
// accepted and somebody, or the jig itself, seats the blade.
//
// What is measured, decided and turned is package sweep's. How it is asked for and shown is
// the front end's, which hands in a Front: this package has no flags, no exit codes, no
// terminal, and writes no results.
package app

import (
	"context"
	"errors"

	"headtrue/jig/fault"
	"headtrue/sweep"
	"headtrue/sweep/stream"
)

// Front is what a front end gives to a run. Ask aside, all of it must be there.
type Front struct {
	// Note shows a line that is no result.
	Note func(format string, args ...any)
	// Show is called as a run begins, and returns what its events are shown by, one after
	// the other, at the front end's own pace.
	Show func() func(sweep.Event)
	// Orders are what a person orders of a run under way, beside its stop; nil if there is
	// no way to order anything.
	Orders *stream.Orders
	// Ask puts a question to a person and returns the answer; nil if nobody can be
	// asked.
	Ask func(ctx context.Context, question string) (string, error)
	// Interruptible returns a context that a person can end, and words to say then: what
	// happens. stop is called when nothing is left to end.
	Interruptible func(ctx context.Context, what string) (_ context.Context, stop func())
}

// Fault shows a mistake of the program itself, and the stack that helps to find it.
func (f Front) Fault(err error) {
	f.Note("headtrue: %v", err)
	f.Stack(err)
}

// Stack shows the stack of a program that broke, if an error is that.
func (f Front) Stack(err error) {
	var broke *fault.Error
	if errors.As(err, &broke) {
		f.Note("Please report this, with the lines below.\n%s", broke.Stack)
	}
}
