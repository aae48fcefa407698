package jig

import (
	"errors"
	"fmt"
)

// Errors of the link.
var (
	// ErrLinkLost: the line ended, for example because the cable was pulled. The jig
	// stops by itself after half a second of silence.
	ErrLinkLost = errors.New("the line to the jig is lost")
	// ErrNoAnswer: the line is there but the jig did not answer in time.
	ErrNoAnswer = errors.New("the jig does not answer")
	// ErrVersion: the jig speaks another version of the link.
	ErrVersion = errors.New("the jig speaks another version of the link")
	// ErrMismatch: the jig is not built as in its profile.
	ErrMismatch = errors.New("the jig does not fit its profile")
	// ErrOverdue: the motor turned for longer than the move can take.
	ErrOverdue = errors.New("the move takes longer than it can")
	// ErrClosed: the Jig was closed.
	ErrClosed = errors.New("the jig is closed")
)

// ResetError reports that the jig restarted after Open. It does not move again until it
// is opened anew.
type ResetError struct {
	Before, After uint16 // boot counts
	Cause         ResetCause
	// Status is the first status after the reset.
	Status Status
}

func (e *ResetError) Error() string {
	return fmt.Sprintf("the jig was reset (%s): boot count %d, was %d; its position is %s",
		e.Cause, e.After, e.Before, e.Status.Memory)
}

// RefusedError reports that the jig did not carry out a request.
type RefusedError struct {
	Request string
	Code    Code
	Status  Status
}

func (e *RefusedError) Error() string {
	return fmt.Sprintf("the jig refused %s: %s", e.Request, e.Code)
}

// LostStepsError reports that the encoder and the count disagree about the shaft: the
// rotor has fallen behind or was turned.
type LostStepsError struct {
	// Microsteps is the count minus the position of the shaft, within half a turn of the
	// motor.
	Microsteps int
	Status     Status
}

func (e *LostStepsError) Error() string {
	return fmt.Sprintf("the encoder on the shaft shows %+d microsteps between the count (%.2f degrees) and the shaft: steps were lost",
		e.Microsteps, e.Status.Position)
}

// StoppedError reports that a motion ended before its target.
type StoppedError struct {
	Reason StopReason
	Status Status
}

func (e *StoppedError) Error() string {
	return fmt.Sprintf("the screw stopped at %.2f degrees on its way to %.2f: %s",
		e.Status.Position, e.Status.Target, e.Reason)
}
