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
