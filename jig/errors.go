package jig

import (
	"errors"
	"fmt"

	protocol "headtrue/firmware-protocol"
)

// What a reply can say, under the names of the link.
type (
	// Memory says how far the jig's position can be trusted.
	Memory = protocol.Memory
	// StopReason says why the last motion ended.
	StopReason = protocol.StopReason
	// ResetCause says why the jig last started.
	ResetCause = protocol.ResetCause
	// Code says why a request was refused.
	Code = protocol.Code
	// Features are bits of what a jig can do.
	Features = protocol.Features
)

// Memory, reasons and codes that callers tell apart.
const (
	Unknown  = protocol.Unknown
	Doubtful = protocol.Doubtful
	Kept     = protocol.Kept

	ReasonNone      = protocol.ReasonNone
	ReasonDone      = protocol.ReasonDone
	ReasonOrder     = protocol.ReasonOrder
	ReasonLimit     = protocol.ReasonLimit
	ReasonStopInput = protocol.ReasonStopInput
	ReasonStall     = protocol.ReasonStall
	ReasonFault     = protocol.ReasonFault
	ReasonSilence   = protocol.ReasonSilence
	ReasonReset     = protocol.ReasonReset

	OutsideWindow = protocol.OutsideWindow
	NotEnergised  = protocol.NotEnergised
	IsMoving      = protocol.IsMoving
	StopHeld      = protocol.StopHeld

	FeatureStopInput = protocol.FeatureStopInput
	FeatureLimits    = protocol.FeatureLimits
)

// Errors of the link.
var (
	// ErrLinkLost: the line ended, as it does when the cable is pulled. The jig
	// stops by itself after half a second of silence.
	ErrLinkLost = errors.New("the line to the jig is lost")
	// ErrNoAnswer: the line is there but the jig did not answer in time.
	ErrNoAnswer = errors.New("the jig does not answer")
	// ErrVersion: the jig speaks another version of the link.
	ErrVersion = errors.New("the jig speaks another version of the link")
	// ErrMismatch: the jig is not made as the profile says.
	ErrMismatch = errors.New("the jig does not fit its profile")
	// ErrOverdue: the motor kept turning longer than the move can take.
	ErrOverdue = errors.New("the move takes longer than it can")
	// ErrClosed: the Jig was closed.
	ErrClosed = errors.New("the jig is closed")
)

// ResetError says that the jig restarted since it was opened. It does not move
// again before it is opened anew.
type ResetError struct {
	Before, After uint16 // boot counts
	Cause         ResetCause
	// Status is the first the jig said after the reset.
	Status Status
}

func (e *ResetError) Error() string {
	return fmt.Sprintf("the jig was reset (%s): boot count %d, was %d; its position is %s",
		e.Cause, e.After, e.Before, e.Status.Memory)
}

// RefusedError says that the jig did not carry out a request.
type RefusedError struct {
	Request string
	Code    Code
	Status  Status
}

func (e *RefusedError) Error() string {
	return fmt.Sprintf("the jig refused %s: %s", e.Request, e.Code)
}

// LostStepsError says that the shaft is not where the count has it, by the encoder on
// it: the rotor has fallen behind, or was turned.
type LostStepsError struct {
	// Microsteps is how far the count is ahead of the shaft, within half a turn of
	// the motor.
	Microsteps int
	Status     Status
}

func (e *LostStepsError) Error() string {
	return fmt.Sprintf("the encoder on the shaft shows %+d microsteps between the count (%.2f degrees) and the shaft: steps were lost",
		e.Microsteps, e.Status.Position)
}

// StoppedError says that a motion ended otherwise than at its target.
type StoppedError struct {
	Reason StopReason
	Status Status
}

func (e *StoppedError) Error() string {
	return fmt.Sprintf("the screw stopped at %.2f degrees on its way to %.2f: %s",
		e.Status.Position, e.Status.Target, e.Reason)
}
