package record

// Cause is the place to look for the fault that kept a run from its full result.
type Cause string

// Causes.
const (
	CauseSpring  Cause = "spring"  // spring or mount: the head does not stay, or lies out of reach
	CauseScrew   Cause = "screw"   // the screw does not turn the head, or with much backlash
	CauseWear    Cause = "wear"    // wear of the head, or dirt: no treble, or channels that differ
	CauseTape    Cause = "tape"    // the tape ended, or is unsuitable
	CauseJig     Cause = "jig"     // link, supply, blade, travel
	CauseSound   Cause = "sound"   // input, cable, level
	CauseByHand  Cause = "by hand" // a person took the unit out
	CauseUnclear Cause = "unclear"
)

// Remedy is the next action after a run's end.
type Remedy string

// Remedies.
const (
	RemedyNone       Remedy = ""
	RemedyRestore    Remedy = "restore"     // put the screw back as found, then look for the cause
	RemedyOtherTape  Remedy = "other-tape"  // play another tape or passage, and align again
	RemedyInput      Remedy = "input"       // repair the path of the sound, and align again
	RemedyJig        Remedy = "jig"         // repair link, supply or blade, and align again
	RemedyMechanism  Remedy = "mechanism"   // check screw, spring and head, and align again
	RemedyAlignAgain Remedy = "align-again" // no known fault
)

// Blame returns the end's own cause, else the cause of its outcome.
func (e End) Blame() Cause {
	if e.Cause != "" {
		return e.Cause
	}
	if i := e.Outcome.known(); i >= 0 {
		return outcomes[i].cause
	}
	return CauseUnclear
}

// Remedy returns the next action. A screw that does not stand at as found is put back first.
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
