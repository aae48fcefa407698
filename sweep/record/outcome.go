package record

import (
	"maps"
	"slices"
)

// Standing is where the screw stands after a run, by the outcome of the run.
type Standing int

const (
	// Stands: the run broke off, and the screw stays there. Link, count or drive may be at
	// fault, or a person stopped the run, so that nothing drives and the end names the way
	// back.
	Stands Standing = iota
	// PutBack is as found: the run found no optimum, but link and count are good, so
	// that it drives back by itself.
	PutBack
	// Set: the run has set the head, and the screw stands at its place.
	Set
	// AsFound is as found, and heard or counted to be so.
	AsFound
	// Untouched is where it stood: nothing was turned.
	Untouched
)

// standings has every outcome.
var standings = map[Outcome]Standing{
	Aligned:     Set,
	LessCertain: Set,
	Disagree:    Set,

	Measured: AsFound,
	Restored: AsFound,

	NotReady: Untouched,
	TakenOut: Untouched,

	TooUncertain:   PutBack,
	NoTreble:       PutBack,
	TravelLimit:    PutBack,
	Clipped:        PutBack,
	ChannelDead:    PutBack,
	ChannelFlipped: PutBack,
	Silent:         PutBack,
	TapeEnded:      PutBack,
	ToneOver:       PutBack,
	AutoGain:       PutBack,

	Interrupted:  Stands,
	JigStopped:   Stands,
	JigReset:     Stands,
	JigRefused:   Stands,
	LinkLost:     Stands,
	SoundStopped: Stands,
	SoundLost:    Stands,
	NotFollowing: Stands, // a blade or coupling that slips makes the count wrong
	WrongScrew:   Stands,
	RestoreDoubt: Stands,
	NotSaved:     Stands,
	Failed:       Stands,
}

// Outcomes are all that a run can end with, by their names.
func Outcomes() []Outcome { return slices.Sorted(maps.Keys(standings)) }

// Standing is where the screw stands after a run that ended so; an outcome of a newer
// program is taken for one after which it stands where the run broke off.
func (o Outcome) Standing() Standing { return standings[o] }

// Good reports whether a run that ended so has come to all that it was asked for, so that
// nothing is left to say about it.
func (o Outcome) Good() bool { return o == Aligned || o.Standing() == AsFound }

// HeadSet reports whether a run that ended so has set the head.
func (o Outcome) HeadSet() bool { return o.Standing() == Set }

// Finished reports whether a run that ended so has come to its end: it has set the head,
// or the screw is back as found.
func (o Outcome) Finished() bool { return o.HeadSet() || o.Standing() == AsFound }
