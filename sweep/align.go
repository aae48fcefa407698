package sweep

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"

	"headtrue/sweep/estimate"

	"headtrue/jig"
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
	if err := c.bracket(ctx); err != nil {
		return record.End{}, err
	}
	v, err := c.refine(ctx)
	if err != nil {
		return record.End{}, err
	}
	if err := c.save(record.Entry{Kind: record.KindDecision, Decision: &v.Decision}); err != nil {
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
		c.screwDeg, sd)}
	if c.plan.ToStandard {
		end.Say += fmt.Sprintf(" of the reference tape; against the standard %.2f', since the tape itself is known to %.2f'",
			v.Optimum.SDArcmin, c.plan.TapeTiltSDArcmin)
	}
	end.Say += v.SayUnlike() + v.SayCreep()
	if sd > c.plan.WithinArcmin {
		end.Outcome = record.LessCertain
		end.Say += fmt.Sprintf("; %.2f' was asked for", c.plan.WithinArcmin)
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
		end = EndOf(&halted{err, c.standStill()})
	}
	end.ScrewDeg, end.ScrewCertain = c.whereNow()
	c.sayStanding(&end, went)
	saveErr := c.save(record.Entry{Kind: record.KindEnd, End: &end})
	c.tell("end", "%s", end.Say)
	var st *stop
	if errors.As(saveErr, &st) && end.Outcome != record.NotSaved {
		end.Say += "; and " + st.say
	}
	return end, saveErr
}

// standStill stops the motor, waits until it has come to rest and lets it go.
// It has no context of its own: it must also work when that has ended, and each
// of its calls gives up by itself. An error says that the motor is not known to
// stand without current.
func (c *course) standStill() error {
	if c.Jig == nil {
		return nil
	}
	c.clip = nil // as the motor ramps down sound goes by that belongs to no clip
	ctx := context.Background()
	halt := c.Jig.Halt()
	_, err := c.Jig.StandStill(ctx, c.pass)
	var reset *jig.ResetError
	switch {
	case errors.As(err, &reset):
		return halt // a jig that starts anew has its motor off
	case err != nil:
		return cmp.Or(halt, err)
	}
	return c.Jig.Release(ctx)
}

// whereNow asks the jig where it stands; without an answer, or where its count has begun
// anew since as found, it is where the jig was heard to be last.
func (c *course) whereNow() (deg float64, certain bool) {
	if c.Jig == nil {
		return 0, false
	}
	st, err := c.Jig.Status(context.Background()) // gives up by itself
	if err != nil || c.trip != nil && st.Epoch != c.epoch {
		return c.lastDeg, false
	}
	return float64(st.Position), !st.Moving && st.Memory == jig.Kept && !c.back.lost()
}

// optimumReach keeps a decision from driving beyond what was measured.
func (c *course) optimumReach(v estimate.Verdict) error {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, s := range c.steps {
		lo, hi = min(lo, s.ScrewDeg), max(hi, s.ScrewDeg)
	}
	if !v.Optimum.OK {
		return &stop{outcome: record.TooUncertain, say: "no centre could be found: " + v.Optimum.Why,
			do: "use a tape with more treble, or a tone"}
	}
	if v.MeasuredSDArcmin > mostSDArcmin {
		return tooUncertain(v.MeasuredSDArcmin)
	}
	// A delay line may be drawn out by as much as an approach leaves.
	if c.plan.ByTreble && !v.Fitted.OK && !v.ClearTop {
		return &stop{outcome: record.NoTreble,
			say: fmt.Sprintf("the programme has no treble to judge by, and in this mix the delay must not set the head: over %.0f degrees of screw the treble has shown no clear top", hi-lo),
			do:  "play a passage with cymbals or other bright sound, or a tone"}
	}
	if c.plan.ByTreble && !v.Fitted.OK {
		return &stop{outcome: record.TooUncertain, say: "the treble, which must set the head in this mix, does not tell the centre: " + v.Fitted.Why,
			do: "use a tone, or a passage in mono"}
	}
	if v.Line.OK && c.byDelayAlone() {
		more := reachArcmin / math.Abs(v.Line.PerDeg)
		lo, hi = max(lo-more, -c.plan.WindowDeg), min(hi+more, c.plan.WindowDeg)
	}
	if v.Optimum.Deg < lo || v.Optimum.Deg > hi {
		return &stop{outcome: record.TooUncertain,
			say: fmt.Sprintf("the centre would lie at %.0f degrees, outside of what was measured (%.0f to %.0f)", v.Optimum.Deg, lo, hi),
			do:  "widen --window, or use a tone"}
	}
	return nil
}
