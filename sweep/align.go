package sweep

import (
	"context"
	"fmt"

	"headtrue/sweep/estimate"
	"headtrue/sweep/figures"
	"headtrue/sweep/record"
)

// Align does a whole alignment by a jig: as found, bracket, refine, decide, drive back, verify,
// leave. It returns how the run ended; the error is set only if the end could not be saved.
func Align(ctx context.Context, s Setup) (record.End, error) {
	c := begin(s)
	end, err := c.align(ctx, byJig{c})
	return c.conclude(ctx, end, err)
}

// screw is the azimuth screw of a run: a jig turns it, or a person.
type screw interface {
	// asFound measures the head before the first turn, and keeps what is needed to undo all.
	asFound(ctx context.Context) error
	// Bracket finds both dull edges, and Refine the optimum between them.
	Bracket(ctx context.Context) error
	Refine(ctx context.Context) (estimate.Verdict, error)
	// set brings the head to the optimum, lets go of the screw and measures as left.
	set(ctx context.Context, v *estimate.Verdict) error
}

// byJig is a screw that the run's jig turns.
type byJig struct{ *course }

func (j byJig) set(ctx context.Context, v *estimate.Verdict) error { return j.driveBack(ctx, v) }

func (c *course) align(ctx context.Context, s screw) (record.End, error) {
	if err := c.ready(ctx); err != nil {
		return record.End{}, err
	}
	if err := s.asFound(ctx); err != nil {
		return record.End{}, err
	}
	if err := s.Bracket(ctx); err != nil {
		return record.End{}, err
	}
	v, err := s.Refine(ctx)
	if err != nil {
		return record.End{}, err
	}
	if err := c.Save(record.Entry{Kind: record.KindDecision, Decision: &v.Decision}); err != nil {
		return record.End{}, err
	}
	if err := s.set(ctx, &v); err != nil {
		return record.End{}, err
	}
	return c.sayReleased(c.sayAligned(v), v), nil
}

// sayAligned returns the end of a run that has set the head, in plain words.
func (c *course) sayAligned(v estimate.Verdict) record.End {
	sd := v.MeasuredSDArcmin
	f := figures.From(&c.Found, &v.Decision, &c.Left)
	end := record.End{Outcome: record.Aligned, Say: "the head is set: " + f.SayHead()}
	if c.byHand && f.FoundOffArcmin == nil { // on a tone by hand, as found is often unknown
		end.Say = "the head is set: it " + f.SayHead()
	}
	if c.Plan.ToStandard {
		end.Say += fmt.Sprintf("; the standard is the reference tape's, whose own tilt is known to%s", figures.PlusMinus(&c.Plan.TapeTiltSDArcmin, "'"))
	}
	if gain := f.SayTreble(c.Plan.ToneHz); gain != "" {
		end.Say += "; " + gain
	}
	end.Say += v.SayUnlike() + v.SayCreep()
	if sd > c.Plan.WithinArcmin {
		end.Outcome = record.LessCertain
		end.Say += fmt.Sprintf("; its uncertainty is%s, and%s was asked for", figures.PlusMinus(&sd, "'"), figures.PlusMinus(&c.Plan.WithinArcmin, "'"))
		end.Do = "use a tone or a passage with steadier treble, or accept a larger uncertainty with --within"
		if v.Agreement == "differ" {
			end.Outcome, end.Cause = record.Disagree, v.Blame()
			end.Say = "the estimates differ: " + v.AgreementWhy + "; the screw was set by the treble"
			end.Do = "before you seal the screw, listen, and align once more on a tone or another tape"
		}
	}
	if v.PlaceDiffers && end.Outcome == record.Aligned && !v.SecondSourceHeard && !v.PlaceDoubted {
		end.Say += "; " + v.AgreementWhy
	} else if v.Agreement == "differ" && end.Outcome == record.Aligned && !v.SecondSourceHeard && !v.PlaceDoubted {
		end.Say += "; the treble has set the screw, since " + v.AgreementWhy
	}
	if v.PlaceDoubted {
		end.Outcome, end.Cause = record.Disagree, v.Blame()
		end.Say += "; but " + v.AgreementWhy
		end.Do = "align again; if this comes again, use --stop-and-measure, or another tape"
		return end
	}
	if v.SecondSourceHeard && end.Outcome == record.Aligned {
		end.Say += "; the treble alone has set it: " + v.AgreementWhy
	}
	return end
}
