package production

import (
	"time"

	"headtrue/sweep/figures"
	"headtrue/sweep/record"
)

// State is the progress of a unit.
type State string

// States.
const (
	ToDo     State = "to do"
	ProofDue State = "proof due"
	Passed   State = "passed"
	Failed   State = "failed"
	Removed  State = "taken out"
)

// Done reports whether the unit needs no more work.
func (s State) Done() bool { return s == Passed || s == Failed || s == Removed }

// Unit is one head of one unit in a batch, with the result of its runs.
type Unit struct {
	Batch   string         `json:"batch"`
	Unit    string         `json:"unit"`
	Head    string         `json:"head"`
	Job     string         `json:"job" help:"names of your own"`
	Tries   int            `json:"tries" help:"runs that should set the head, without those that broke off"`
	State   State          `json:"state" help:"to do, proof due, passed, failed or taken out"`
	Outcome record.Outcome `json:"outcome" help:"of the last run that should set the head"`
	// Figures are those of that run; as found, of the first run on the unit.
	figures.Figures
	ProofArcmin   *float64     `json:"proof_off_arcmin"`
	MovedArcmin   *float64     `json:"moved_arcmin" help:"distance of the head from the optimum at the proof, and its movement since it was left"`
	Seconds       float64      `json:"time_s" help:"from the beginning of the first run to the end of the last"`
	Cause         record.Cause `json:"cause"`
	Why           string       `json:"why" help:"why it has not passed: spring, screw, wear, tape, jig, sound, by hand or unclear; and in words"`
	Run           string       `json:"run"` // the last one that set the head, or tried to
	Proof         string       `json:"proof" help:"names of the runs, for headtrue sheet"`
	began, latest time.Time
}

// Units groups the runs of batches, oldest first, by unit and head.
func Units(runs []Run) []Unit {
	var units []Unit
	at := map[[3]string]int{}
	for _, r := range runs {
		key := [3]string{r.Start.Batch, r.Start.Unit, r.Start.Head}
		i, known := at[key]
		if !known {
			i = len(units)
			at[key] = i
			units = append(units, Unit{Batch: key[0], Unit: key[1], Head: key[2], State: ToDo, began: r.Begun})
		}
		units[i].add(r)
	}
	return units
}

func (u *Unit) add(r Run) {
	if r.Start.Job != "" {
		u.Job = r.Start.Job
	}
	u.latest = r.Ended
	u.Seconds = u.latest.Sub(u.began).Seconds()
	switch {
	case r.End.Outcome == record.TakenOut:
		u.judge(Removed, figures.Verdict{Cause: record.CauseByHand, Why: r.Note})
	case r.Start.ProofOf != "":
		u.addProof(r)
	default:
		u.addTry(r)
	}
}

func (u *Unit) addTry(r Run) {
	u.Run, u.Outcome = r.Start.Run, r.End.Outcome
	u.ProofArcmin, u.MovedArcmin, u.Proof = nil, nil, ""
	was, wasSD := u.FoundOffArcmin, u.FoundOffSDArcmin
	u.Figures = r.figures()
	if was != nil {
		u.FoundOffArcmin, u.FoundOffSDArcmin = was, wasSD
	}
	if r.brokenOff() {
		u.judge(ToDo, figures.Verdict{})
		return
	}
	u.Tries++
	v := Judge(r)
	if v.Passed {
		u.judge(ProofDue, v)
		return
	}
	u.judge(Failed, v)
}

// addProof adds a measured proof; after any other the proof is still due.
func (u *Unit) addProof(r Run) {
	if r.Start.ProofOf != u.Run || r.End.Outcome != record.Measured || r.Left == nil {
		return
	}
	u.Proof, u.ProofArcmin, u.MovedArcmin = r.Start.Run, r.Left.OffArcmin, figures.Moved(r.figures(), u.LeftOffArcmin)
	v := JudgeProof(r, u.LeftOffArcmin)
	if v.Passed {
		u.judge(Passed, v)
		return
	}
	u.judge(Failed, v)
}

func (u *Unit) judge(s State, v figures.Verdict) { u.State, u.Cause, u.Why = s, v.Cause, v.Why }

// During returns the units whose last work was in a period; a zero bound means no bound,
// and until is excluded.
func During(units []Unit, since, until time.Time) (in []Unit) {
	for _, u := range units {
		if !u.latest.Before(since) && (until.IsZero() || u.latest.Before(until)) {
			in = append(in, u)
		}
	}
	return in
}
