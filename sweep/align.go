package sweep

import (
	"context"
	"errors"
	"fmt"

	"headtrue/sweep/session"

	"headtrue/sweep/estimate"

	"headtrue/sweep/record"
)

// Align is the whole course: as found, bracket, refine, decide, drive back,
// verify, leave. It returns how the run ended; the error is set only where the
// end itself could not be saved.
func Align(ctx context.Context, s Setup) (record.End, error) {
	c := begin(s)
	end, err := c.align(ctx)
	return c.conclude(ctx, end, err)
}

func (c *course) align(ctx context.Context) (record.End, error) {
	if err := c.ready(ctx); err != nil {
		return record.End{}, err
	}
	if err := c.asFound(ctx); err != nil {
		return record.End{}, err
	}
	if err := c.Bracket(ctx); err != nil {
		return record.End{}, err
	}
	v, err := c.Refine(ctx)
	if err != nil {
		return record.End{}, err
	}
	if err := c.Save(record.Entry{Kind: record.KindDecision, Decision: &v.Decision}); err != nil {
		return record.End{}, err
	}
	if err := c.driveBack(ctx, &v); err != nil {
		return record.End{}, err
	}
	return c.sayReleased(c.sayAligned(v), v), nil
}

// sayAligned is the plain word at a good end.
func (c *course) sayAligned(v estimate.Verdict) record.End {
	sd := v.MeasuredSDArcmin
	end := record.End{Outcome: record.Aligned, Say: fmt.Sprintf(
		"the head is set, the jig at %+.1f degrees from as found, to within %.2f' (one standard uncertainty)",
		c.ScrewDeg, sd)}
	if c.Plan.ToStandard {
		end.Say += fmt.Sprintf(" of the reference tape; against the standard %.2f', since the tape itself is known to %.2f'",
			v.Optimum.SDArcmin, c.Plan.TapeTiltSDArcmin)
	}
	end.Say += v.SayUnlike() + v.SayCreep()
	if sd > c.Plan.WithinArcmin {
		end.Outcome = record.LessCertain
		end.Say += fmt.Sprintf("; %.2f' was asked for", c.Plan.WithinArcmin)
		end.Do = "use a tone, or a passage with steadier treble, or accept the larger uncertainty with --within"
		if v.Agreement == "differ" {
			end.Outcome = record.Disagree
			end.Say = "the estimates do not tell the same story: " + v.AgreementWhy + "; the screw was set by the treble"
			end.Do = "listen, and repeat on a tone or another tape before sealing the screw"
		}
	}
	if v.Agreement == "differ" && end.Outcome == record.Aligned && !v.SecondSourceHeard && !v.PlaceDoubted {
		end.Say += "; the treble has set the screw, since " + v.AgreementWhy
	}
	if v.PlaceDoubted {
		end.Outcome = record.Disagree
		end.Say += "; but " + v.AgreementWhy
		end.Do = "align again; if it comes again, use --stop-and-measure, or another tape"
		return end
	}
	if v.SecondSourceHeard && end.Outcome == record.Aligned {
		end.Say += "; the treble has set it, not the delay: " + v.AgreementWhy
	}
	return end
}

// conclude puts the screw back where a run that set no head may do so, makes it stand
// still, lets go of the motor where a run broke off, and saves how the run ended.
func (c *course) conclude(ctx context.Context, end record.End, err error) (record.End, error) {
	var went wentBack
	if err != nil {
		went = c.putBack(ctx, err)
		end = session.EndOf(&session.Halted{Cause: err, Stop: c.StandStill()})
	}
	end.ScrewDeg, end.ScrewCertain = c.whereNow()
	c.sayStanding(&end, went)
	saveErr := c.Save(record.Entry{Kind: record.KindEnd, End: &end})
	c.Tell("end", "%s", end.Say)
	var st *session.Stop
	if errors.As(saveErr, &st) && end.Outcome != record.NotSaved {
		end.Say += "; and " + st.Say
	}
	return end, saveErr
}

// whereNow is where the jig stands, and whether that is certain.
func (c *course) whereNow() (deg float64, certain bool) {
	if !c.HasJig() {
		return 0, false
	}
	deg, certain = c.StandsNow()
	return deg, certain && !c.back.lost()
}
