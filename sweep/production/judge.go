package production

import "headtrue/sweep/figures"

// Judge compares a run that should set a head with the limits with which it was begun.
func Judge(r Run) figures.Verdict { return figures.Judge(r.limits(), r.End, r.figures()) }

// JudgeProof compares a proof with its limits, and with the tilt as left by the run that it
// proves.
func JudgeProof(proof Run, leftArcmin *float64) figures.Verdict {
	return figures.JudgeProof(proof.limits(), proof.figures(), leftArcmin)
}

func (r Run) limits() figures.Limits { return figures.LimitsOf(r.Start.Settings) }

func (r Run) figures() figures.Figures {
	f := figures.From(r.Found, r.Decision, r.Left)
	f.TapeSeconds = r.TapeSeconds
	return f
}
