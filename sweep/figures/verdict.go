package figures

import (
	"fmt"
	"math"
	"strconv"

	"headtrue/sweep/record"
)

// Limits are the limits for a head to pass: the greatest tilt from the optimum as left, the
// greatest standard uncertainty of the optimum, the greatest backlash, and the greatest
// movement until its proof. 0 means no limit.
type Limits struct{ OffArcmin, SDArcmin, BacklashDeg, MovedArcmin float64 }

// LimitsOf reads them from the settings with which a run was begun.
func LimitsOf(settings map[string]string) Limits {
	number := func(key string) float64 {
		x, err := strconv.ParseFloat(settings["deck."+key], 64)
		if err != nil {
			return 0 // an older run has none
		}
		return x
	}
	return Limits{number("pass_off_arcmin"), number("pass_sd_arcmin"), number("pass_backlash_deg"), number("pass_moved_arcmin")}
}

// Verdict reports whether a head passed; if not, the place to look for the cause, and why.
type Verdict struct {
	Passed bool
	Cause  record.Cause
	Why    string
}

func failed(c record.Cause, format string, args ...any) Verdict {
	return Verdict{Cause: c, Why: fmt.Sprintf(format, args...)}
}

// Judge compares a run that should set a head with its limits.
func Judge(l Limits, end record.End, f Figures) Verdict {
	if end.Outcome != record.Aligned && end.Outcome != record.LessCertain {
		return Verdict{Cause: end.Blame(), Why: end.Say}
	}
	if f.LeftOffArcmin == nil || f.OptimumSDArcmin == nil {
		return failed(record.CauseUnclear, "the tilt of the head as left could not be heard")
	}
	switch {
	case over(f.OptimumSDArcmin, l.SDArcmin):
		return failed(record.CauseTape, "the uncertainty of the optimum is%s, the limit%s", PlusMinus(f.OptimumSDArcmin, "'"), PlusMinus(&l.SDArcmin, "'"))
	case over(f.BacklashDeg, l.BacklashDeg):
		return failed(record.CauseScrew, "the backlash is %.0f degrees of screw, the limit %g", *f.BacklashDeg, l.BacklashDeg)
	case over(f.LeftOffArcmin, l.OffArcmin):
		return failed(record.CauseSpring, "with the blade away the head stands %s off, the limit is %g'", Arcmin(f.LeftOffArcmin), l.OffArcmin)
	}
	return Verdict{Passed: true}
}

// JudgeProof compares a proof with the limits, and with the tilt as left by the run that it
// proves.
func JudgeProof(l Limits, proof Figures, leftArcmin *float64) Verdict {
	moved := Moved(proof, leftArcmin)
	switch {
	case moved == nil:
		return failed(record.CauseUnclear, "the tilt of the head could not be heard")
	case over(moved, l.MovedArcmin):
		return failed(record.CauseSpring, "since it was set the head has moved by %s, the limit is %g'", Arcmin(moved), l.MovedArcmin)
	case over(proof.LeftOffArcmin, l.OffArcmin):
		return failed(record.CauseSpring, "at its proof the head stands %s off, the limit is %g'", Arcmin(proof.LeftOffArcmin), l.OffArcmin)
	}
	return Verdict{Passed: true}
}

// Moved returns how far a head has moved from as left to its proof; nil if that is unknown.
func Moved(proof Figures, leftArcmin *float64) *float64 {
	if proof.LeftOffArcmin == nil || leftArcmin == nil {
		return nil
	}
	moved := *proof.LeftOffArcmin - *leftArcmin
	return &moved
}

func over(x *float64, limit float64) bool { return x != nil && limit > 0 && math.Abs(*x) > limit }

// Stamp is the result of a run in one or two words.
type Stamp string

// Stamps.
const (
	Pass     Stamp = "PASS"     // the head is set, within the limits of its deck
	InDoubt  Stamp = "IN DOUBT" // the head is set or the screw is back, but a limit or a check speaks against it
	NotSet   Stamp = "NOT SET"
	Measured Stamp = "MEASURED"
	Restored Stamp = "RESTORED"
)

// StampOf returns the stamp of a run and the reasons against it, empty if there are none.
// end is nil if the run was cut off.
func StampOf(settings map[string]string, end *record.End, f Figures) (s Stamp, against string) {
	switch {
	case end == nil:
		return NotSet, ""
	case end.Outcome == record.Measured:
		return Measured, ""
	case end.Outcome == record.Restored:
		return Restored, ""
	case end.Outcome == record.RestoreDoubt:
		return InDoubt, ""
	case !end.Outcome.HeadSet():
		return NotSet, ""
	}
	v := Judge(LimitsOf(settings), *end, f)
	switch {
	case v.Passed:
		return Pass, ""
	case v.Why == end.Say:
		return InDoubt, "" // the run has said it
	}
	return InDoubt, v.Why
}
