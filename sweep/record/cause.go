package record

// Cause says where to look for what kept a run from all that it was asked for.
type Cause string

// Causes.
const (
	CauseSpring  Cause = "spring"  // it, or the mount: the head does not stay, or lies out of reach
	CauseScrew   Cause = "screw"   // it does not turn the head, or with much backlash
	CauseWear    Cause = "wear"    // of the head, or dirt: no treble, or channels that differ
	CauseTape    Cause = "tape"    // it ended, or cannot be judged by
	CauseJig     Cause = "jig"     // link, supply, blade, travel
	CauseSound   Cause = "sound"   // input, cable, level
	CauseByHand  Cause = "by hand" // a person took it out
	CauseUnclear Cause = "unclear"
)

// Remedy is what can be done next about a run's end.
type Remedy string

// Remedies.
const (
	RemedyNone       Remedy = ""
	RemedyRestore    Remedy = "restore"     // put the screw back as found, then look for the cause
	RemedyOtherTape  Remedy = "other-tape"  // play another tape or passage, and align again
	RemedyInput      Remedy = "input"       // mend what the sound comes through, and align again
	RemedyJig        Remedy = "jig"         // mend link, supply or blade, and align again
	RemedyMechanism  Remedy = "mechanism"   // look at screw, spring and head, and align again
	RemedyAlignAgain Remedy = "align-again" // nothing is known to be wrong
)

// Blame is where to look: the end's own cause, else that of its outcome.
func (e End) Blame() Cause {
	if e.Cause != "" {
		return e.Cause
	}
	if i := e.Outcome.known(); i >= 0 {
		return outcomes[i].cause
	}
	return CauseUnclear
}

// Remedy is what can be done next. A screw that stands elsewhere than as found is put back
// first.
func (e End) Remedy() Remedy {
	switch {
	case e.Outcome.Good():
		return RemedyNone
	case e.RestoreCommand != "":
		return RemedyRestore
	}
	switch e.Blame() {
	case CauseTape:
		return RemedyOtherTape
	case CauseSound:
		return RemedyInput
	case CauseJig:
		return RemedyJig
	case CauseSpring, CauseScrew, CauseWear:
		return RemedyMechanism
	}
	return RemedyAlignAgain
}
