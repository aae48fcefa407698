package record

import (
	"slices"
)

// Standing is the place of the screw after a run, by the outcome of the run.
type Standing int

const (
	// Stands: the run broke off, and the screw stays there. Nothing drives, because link,
	// count or drive may be at fault or a person stopped the run. The end names the way
	// back.
	Stands Standing = iota
	// PutBack: the run found no optimum, but link and count are good, so it drives back to
	// as found by itself.
	PutBack
	// Set: the run has set the head, and the screw stands at its place.
	Set
	// AsFound: the screw is as found, confirmed by sound or count.
	AsFound
	// Untouched: nothing was turned.
	Untouched
)

// outcomes is the only list of outcomes: the screw's place afterwards, the cause and the
// meaning. Help, exit codes and documents are made from it.
var outcomes = []struct {
	outcome  Outcome
	standing Standing
	cause    Cause // unless the end has another
	meaning  string
}{
	{Aligned, Set, CauseUnclear, "the head is set as asked"},
	{Measured, AsFound, CauseUnclear, "measured, and the screw as it was found"},
	{Restored, AsFound, CauseUnclear, "back as found"},
	{Failed, Stands, CauseUnclear, "something unexpected; the message says what"},
	{LessCertain, Set, CauseUnclear, "the head is set, with a larger uncertainty than was asked"},
	{Disagree, Set, CauseUnclear, "the head is set, but the estimates differ"},
	{TooUncertain, PutBack, CauseTape, "no optimum could be found well enough"},
	{NotReady, Untouched, CauseSound, "port, jig or sound not ready; nothing was moved"},
	{Interrupted, Stands, CauseUnclear, "stopped on request (Ctrl-C); the screw stands still"},
	{TakenOut, Untouched, CauseByHand, "a person took the unit out of its batch"},
	{LinkLost, Stands, CauseJig, "the cable to the jig is gone, or the jig does not answer"},
	{JigReset, Stands, CauseJig, "the jig restarted in the middle of the run"},
	{JigStopped, Stands, CauseJig, "the jig stopped by itself: stop button, limit, stall"},
	{JigRefused, Stands, CauseJig, "the jig refused an order"},
	{SoundStopped, Stands, CauseSound, "the sound no longer arrives"},
	{SoundLost, Stands, CauseSound, "samples were lost on the way from the sound device"},
	{Silent, PutBack, CauseSound, "nothing is heard"},
	{Clipped, PutBack, CauseSound, "the sound is clipped"},
	{TapeEnded, PutBack, CauseTape, "the tape has come to its end"},
	{ChannelDead, PutBack, CauseSound, "one channel is dead"},
	{ChannelFlipped, PutBack, CauseSound, "one channel is inverted against the other"},
	{NoTreble, PutBack, CauseWear, "the programme has too little treble to judge by"},
	{ToneOver, PutBack, CauseTape, "the tone on the tape is over"},
	{AutoGain, PutBack, CauseSound, "the gain of the sound input follows the level"},
	{TravelLimit, PutBack, CauseSpring, "the window ended before a dull edge was found"},
	{NotFollowing, Stands, CauseScrew, "the sound does not follow the screw"},
	{WrongScrew, Stands, CauseJig, "turning moves the balance, not the azimuth"},
	{RestoreDoubt, Stands, CauseUnclear, "driven back, but as found cannot be confirmed"},
	{NotSaved, Stands, CauseUnclear, "the record could not be written"},
}

// known returns the index of an outcome in the list, or -1 for one of a newer program.
func (o Outcome) known() int {
	for i := range outcomes {
		if outcomes[i].outcome == o {
			return i
		}
	}
	return -1
}

// Outcomes returns all outcomes, sorted by name.
func Outcomes() []Outcome {
	var list []Outcome
	for _, o := range outcomes {
		list = append(list, o.outcome)
	}
	slices.Sort(list)
	return list
}

// Meaning returns the meaning of an outcome in plain words.
func (o Outcome) Meaning() string {
	if i := o.known(); i >= 0 {
		return outcomes[i].meaning
	}
	return ""
}

// Standing returns the place of the screw after a run with this outcome. An outcome of a
// newer program counts as Stands.
func (o Outcome) Standing() Standing {
	if i := o.known(); i >= 0 {
		return outcomes[i].standing
	}
	return Stands
}

// Good reports whether a run with this outcome has reached its full result, without a
// reservation.
func (o Outcome) Good() bool { return o == Aligned || o.Standing() == AsFound }

// HeadSet reports whether a run with this outcome has set the head.
func (o Outcome) HeadSet() bool { return o.Standing() == Set }

// Finished reports whether a run with this outcome was completed: it has set the head, or
// the screw is as found.
func (o Outcome) Finished() bool { return o.HeadSet() || o.Standing() == AsFound }
