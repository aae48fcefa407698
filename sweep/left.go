package sweep

import (
	"context"
	"fmt"
	"math"

	"headtrue/sweep/estimate"
	"headtrue/sweep/figures"
	"headtrue/sweep/record"
)

// driveBack drives to the optimum, lets go of the motor and measures as left.
func (c *course) driveBack(ctx context.Context, v *estimate.Verdict) error {
	if err := c.CheckLobe(v); err != nil {
		return err
	}
	verified, err := c.ToOptimum(ctx, v)
	if err == nil {
		err = c.CheckArrived(v, verified)
	}
	if err != nil {
		return err
	}
	return c.leave(ctx, v, &verified)
}

// leave lets go of the motor, has the blade withdrawn and measures as left. It compares with
// the optimum in v; v is nil if the run did not drive there.
func (c *course) leave(ctx context.Context, v *estimate.Verdict, verified *record.Reading) error {
	left := record.Left{ScrewDeg: c.ScrewDeg, Verified: verified, BladeTiltArcmin: c.Blade.Arcmin, StepsCheckedBy: c.Left.StepsCheckedBy}
	if err := c.LetGo(ctx); err != nil {
		return err
	}
	if err := c.OpenClip("as-left"); err != nil {
		return err
	}
	c.Tell("as left", "listening with the motor off and the blade away")
	r, err := c.Listen(ctx, c.Plan.ProofSeconds)
	if err != nil {
		return err
	}
	if left.Clip, err = c.CloseClip(); err != nil {
		return err
	}
	left.Released = &r
	if v != nil {
		c.noteOff(&left, v)
	}
	left.TravelDeg, left.Running = c.TravelDeg(), c.Running()
	c.leftOwnSD = left.OffSDArcmin
	if v != nil && left.OffArcmin != nil && !c.Plan.ByTreble {
		v.HeardAsLeft(*left.OffArcmin, left.OffSDArcmin, v.Creeps(c.Path, c.VerifiedAt, c.TapeSeconds()-r.Seconds/2))
		left.OffSDArcmin = math.Hypot(left.OffSDArcmin, v.OptimumTiltSD(c.Plan.Plan))
		if err := c.Save(record.Entry{Kind: record.KindDecision, Decision: &v.Decision}); err != nil {
			return err
		}
	}
	c.Left = left
	return c.Save(record.Entry{Kind: record.KindLeft, Left: &left})
}

// noteOff records the tilt as left from the optimum.
func (c *course) noteOff(left *record.Left, v *estimate.Verdict) {
	r := left.Released
	if !v.Line.OK || !estimate.DelayUsable(*r) {
		return
	}
	r.DelayTrackedUS = c.Count(*r)
	optimum, sd := v.TiltArcmin, math.Hypot(v.Wander.MeanSD(r.Seconds), c.Plan.Tape.Arcmin(r.DelayNoiseSDUS))
	if c.Plan.ByTreble {
		// The delay does not give the optimum; it only shows whether the head has moved.
		if left.Verified == nil || !estimate.DelayUsable(*left.Verified) {
			return
		}
		optimum, sd = c.Plan.Tape.Arcmin(left.Verified.DelayTrackedUS)-c.Blade.Arcmin, math.Hypot(sd, math.Sqrt2*v.StrayArcmin)
	}
	off := c.OffTilt(v, *r, c.Plan.Tape.Arcmin(r.DelayTrackedUS), optimum)
	if c.Plan.ByTreble {
		off, sd = stayed(off, sd, v.MeasuredSDArcmin)
	}
	left.OffArcmin, left.OffSDArcmin = &off, sd
}

// stayed combines two estimates of the tilt from the optimum: that the head stays where the
// treble has set it, with the standard deviation set, and off, which the delay gives, with sd. If
// they contradict each other, the head has moved, and off alone counts.
func stayed(off, sd, set float64) (float64, float64) {
	both := math.Hypot(sd, set)
	if math.Abs(off) > estimate.Contradiction*both {
		return off, both
	}
	return off * set * set / (both * both), sd * set / both
}

// mostMixJumpUS is the greatest shift by a second source: the range of dsp.Straight.
const mostMixJumpUS = 520

// sayReleased compares the head, with the motor off and the blade away, with the optimum.
// Only this reading shows the effect of a released rotor or a withdrawn blade.
func (c *course) sayReleased(end record.End, v estimate.Verdict) record.End {
	if c.Blade.Arcmin != 0 {
		end.Say += fmt.Sprintf("; the seated blade tilts the head by %.1f',%s (95 %%), which is allowed for", c.Blade.Arcmin, figures.PlusMinus(&c.Blade.Sd, "'"))
	}
	if c.Left.OffArcmin == nil {
		return end
	}
	off, sd := *c.Left.OffArcmin, c.leftOwnSD
	if math.Abs(off) <= max(estimate.Contradiction*sd, c.Plan.WithinArcmin) {
		return end
	}
	if c.Plan.ByTreble && math.Abs(off) <= c.Plan.Tape.Arcmin(mostMixJumpUS) {
		end.Say += fmt.Sprintf("; with the blade away the delay puts it %.1f' from there, but in this recording instruments with delays of their own can do that", off)
		return end
	}
	if end.Outcome == record.Aligned {
		end.Outcome = record.LessCertain
	}
	end.Say += fmt.Sprintf("; but with the blade away the delay puts it %.1f' from there", off)
	end.Do = "look whether the blade tilts the head, or turns the screw when it is withdrawn, then align again"
	return end
}
