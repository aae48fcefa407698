package production

import (
	"fmt"
	"math"
	"strings"

	"headtrue/sweep/record"
)

// Cause says where to look for what kept a unit from passing.
type Cause string

// Causes.
const (
	Spring  Cause = "spring"  // it, or the mount: the head does not stay, or lies out of reach
	Screw   Cause = "screw"   // it does not turn the head, or with much play
	Wear    Cause = "wear"    // of the head, or dirt: no treble, or channels that differ
	Tape    Cause = "tape"    // it ended, or cannot be judged by
	Jig     Cause = "jig"     // link, supply, blade, travel
	Sound   Cause = "sound"   // input, cable, level
	ByHand  Cause = "by hand" // a person took it out
	Unclear Cause = "unclear"
)

// Verdict is whether a run was good enough; if not, why, in plain words.
type Verdict struct {
	Passed bool
	Cause  Cause
	Why    string
}

func failed(c Cause, format string, args ...any) Verdict {
	return Verdict{Cause: c, Why: fmt.Sprintf(format, args...)}
}

// Judge holds a run that was to set a head against the limits it was begun with.
func Judge(r Run) Verdict {
	if r.Outcome != record.Aligned && r.Outcome != record.LessCertain {
		return Verdict{Cause: causeOf(r), Why: r.Say}
	}
	if r.Left == nil || r.Left.OffArcmin == nil || r.Decision == nil {
		return failed(Unclear, "how far off the head was left could not be heard")
	}
	l, d := LimitsOf(r.Start.Settings), r.Decision
	switch {
	case over(d.Optimum.SDArcmin, l.SDArcmin):
		return failed(Tape, "the optimum is known to %.2f' only, %g' is the limit", d.Optimum.SDArcmin, l.SDArcmin)
	case d.BacklashSDDeg > 0 && over(d.BacklashDeg, l.BacklashDeg):
		return failed(Screw, "the play is %.0f degrees of screw, %g the limit", d.BacklashDeg, l.BacklashDeg)
	case over(*r.Left.OffArcmin, l.OffArcmin):
		return failed(Spring, "with the blade away the head stands %+.2f' off, %g' is the limit", *r.Left.OffArcmin, l.OffArcmin)
	}
	return Verdict{Passed: true}
}

// JudgeProof holds a proof against the limits, and against how far off the run that it
// proves has left the head.
func JudgeProof(proof Run, leftArcmin *float64) Verdict {
	l := LimitsOf(proof.Start.Settings)
	moved := Moved(proof, leftArcmin)
	switch {
	case moved == nil:
		return failed(Unclear, "how far off the head stands could not be heard")
	case over(*moved, l.MovedArcmin):
		return failed(Spring, "since it was set the head has moved by %+.2f', %g' is the limit", *moved, l.MovedArcmin)
	case over(*proof.Left.OffArcmin, l.OffArcmin):
		return failed(Spring, "at its proof the head stands %+.2f' off, %g' is the limit", *proof.Left.OffArcmin, l.OffArcmin)
	}
	return Verdict{Passed: true}
}

// Moved is by how much a head has moved from where it was left to its proof; nil where
// that was not heard.
func Moved(proof Run, leftArcmin *float64) *float64 {
	if proof.Left == nil || proof.Left.OffArcmin == nil || leftArcmin == nil {
		return nil
	}
	moved := *proof.Left.OffArcmin - *leftArcmin
	return &moved
}

func over(x, limit float64) bool { return limit > 0 && math.Abs(x) > limit }

// causes are those of outcomes that have but one.
var causes = map[record.Outcome]Cause{
	record.NotFollowing: Screw, record.TravelLimit: Spring, record.NoTreble: Wear,
	record.WrongScrew: Jig, record.LinkLost: Jig, record.JigReset: Jig, record.JigStopped: Jig, record.JigRefused: Jig,
	record.SoundStopped: Sound, record.SoundLost: Sound, record.Silent: Sound, record.Clipped: Sound,
	record.ChannelDead: Sound, record.ChannelFlipped: Sound, record.AutoGain: Sound, record.NotReady: Sound,
	record.TapeEnded: Tape, record.ToneOver: Tape, record.TakenOut: ByHand,
}

// Words by which package sweep says what differs.
const (
	saysMix     = "sources in the mix have delays of their own"
	saysWorn    = "a channel that is worn or dirty"
	saysRestive = "the place could not be confirmed"
)

// causeOf sorts a run that has not set its head.
func causeOf(r Run) Cause {
	why := ""
	if r.Decision != nil {
		why = r.Decision.AgreementWhy
	}
	switch {
	case r.Outcome == record.TooUncertain && strings.Contains(r.Say, saysRestive):
		return Spring
	case r.Outcome == record.TooUncertain, r.Outcome == record.Disagree && strings.Contains(why, saysMix):
		return Tape
	case r.Outcome == record.Disagree && strings.Contains(why, saysWorn):
		return Wear
	}
	if c, known := causes[r.Outcome]; known {
		return c
	}
	return Unclear
}
