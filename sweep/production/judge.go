package production

import (
	"fmt"
	"math"

	"headtrue/sweep/record"
)

// Verdict reports whether a run passed; if not, why, in plain words.
type Verdict struct {
	Passed bool
	Cause  record.Cause
	Why    string
}

func failed(c record.Cause, format string, args ...any) Verdict {
	return Verdict{Cause: c, Why: fmt.Sprintf(format, args...)}
}

// Judge compares a run that should set a head with the limits with which it was begun.
func Judge(r Run) Verdict {
	if r.End.Outcome != record.Aligned && r.End.Outcome != record.LessCertain {
		return Verdict{Cause: r.End.Blame(), Why: r.End.Say}
	}
	if r.Left == nil || r.Left.OffArcmin == nil || r.Decision == nil {
		return failed(record.CauseUnclear, "how far off the head was left could not be heard")
	}
	l, d := LimitsOf(r.Start.Settings), r.Decision
	switch {
	case over(d.Optimum.SDArcmin, l.SDArcmin):
		return failed(record.CauseTape, "the optimum is known to %.2f' only, %g' is the limit", d.Optimum.SDArcmin, l.SDArcmin)
	case d.BacklashSDDeg > 0 && over(d.BacklashDeg, l.BacklashDeg):
		return failed(record.CauseScrew, "the play is %.0f degrees of screw, %g the limit", d.BacklashDeg, l.BacklashDeg)
	case over(*r.Left.OffArcmin, l.OffArcmin):
		return failed(record.CauseSpring, "with the blade away the head stands %+.2f' off, %g' is the limit", *r.Left.OffArcmin, l.OffArcmin)
	}
	return Verdict{Passed: true}
}

// JudgeProof compares a proof with the limits, and with the offset as left by the run
// that it proves.
func JudgeProof(proof Run, leftArcmin *float64) Verdict {
	l := LimitsOf(proof.Start.Settings)
	moved := Moved(proof, leftArcmin)
	switch {
	case moved == nil:
		return failed(record.CauseUnclear, "how far off the head stands could not be heard")
	case over(*moved, l.MovedArcmin):
		return failed(record.CauseSpring, "since it was set the head has moved by %+.2f', %g' is the limit", *moved, l.MovedArcmin)
	case over(*proof.Left.OffArcmin, l.OffArcmin):
		return failed(record.CauseSpring, "at its proof the head stands %+.2f' off, %g' is the limit", *proof.Left.OffArcmin, l.OffArcmin)
	}
	return Verdict{Passed: true}
}

// Moved returns how far a head has moved from as left to its proof; nil if that was not
// measured.
func Moved(proof Run, leftArcmin *float64) *float64 {
	if proof.Left == nil || proof.Left.OffArcmin == nil || leftArcmin == nil {
		return nil
	}
	moved := *proof.Left.OffArcmin - *leftArcmin
	return &moved
}

func over(x, limit float64) bool { return limit > 0 && math.Abs(x) > limit }
