package known

import "errors"

// Errors of a match. Result wraps these.
var (
	// ErrTooShort: the sound is too short to be placed.
	ErrTooShort = errors.New("too short to be matched")
	// ErrUnlike: the tape's sound is nowhere in the reference.
	ErrUnlike = errors.New("the reference is not what is on the tape")
	// ErrSpeed: it was found, but its speed is off by more than FurthestSpeed.
	ErrSpeed = errors.New("the tape's speed is too far from that of the reference")
	// ErrIncoherent: it was found, but the sound has too little in common with it for a
	// measurement.
	ErrIncoherent = errors.New("the tape has too little in common with the reference")
)
