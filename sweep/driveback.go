package sweep

import (
	"context"
	"fmt"
	"math"

	"headtrue/sweep/record"
)

// Limits of the listening at the place, seconds.
const (
	leastDwellSeconds = 0.5
	dwellPieceSeconds = 0.25
	mostDwellSeconds  = 8
)

// arrivalSD is how far a place that is arrived at from the home side varies,
// arcmin: stiction and microsteps.
const arrivalSD = 0.1

// driveBack arrives at the optimum from the home side, listens there until the
// tape's wander is averaged out as far as is asked for, takes out what is off,
// lets go of the motor and measures what was left. What the delay line says of
// the place and what is heard there are weighed by their uncertainties.
func (c *course) driveBack(ctx context.Context, v *verdict) error {
	const worth = 0.05 // arcmin; less is not worth a move
	target := c.seatedDeg(*v)
	c.tell("drive back", "to %.1f degrees, arriving from the home side", target)
	var verified record.Reading
	for try := 0; ; try++ {
		if err := c.goTo(ctx, target, true); err != nil {
			return err
		}
		c.tell("verify", "listening at the place")
		r, sd, err := c.dwell(ctx, v)
		if err != nil {
			return err
		}
		verified = r
		if err := c.atTop(v, r); err != nil {
			return err
		}
		if !v.line.ok || !delayUsable(r) {
			break
		}
		expected := math.Hypot(v.line.sd(v.Optimum.Deg), arrivalSD)
		gain := expected * expected / (expected*expected + sd*sd)
		off := gain * c.offTilt(*v, r, c.seatedTilt(*v))
		v.line = v.line.anchored(target, off, sd*math.Sqrt(gain))
		v.foundHome(c.found.Seated, c.foundHome, c.plan)
		target -= off / v.line.perDeg
		v.Optimum.Deg -= off / v.line.perDeg
		v.Optimum.SDArcmin = math.Hypot(v.xSD, sd*math.Sqrt(gain))
		v.measuredSD = v.Optimum.SDArcmin
		if math.Abs(off) < worth {
			break
		}
		c.tell("drive back", "%.2f' off the mark; correcting to %.1f degrees", off, target)
		if math.Abs(off) <= farOff || try > 0 {
			if err := c.goTo(ctx, target, true); err != nil {
				return err
			}
			break
		}
	}
	if c.plan.ToStandard {
		v.Optimum.SDArcmin = math.Hypot(v.Optimum.SDArcmin, c.plan.TapeTiltSDArcmin)
	}
	if err := c.save(record.Entry{Kind: record.KindDecision, Decision: &v.Decision}); err != nil {
		return err
	}
	return c.leave(ctx, &verified)
}

// atTop stops the run where a tone is far from its top at the place: a whole
// period has been miscounted.
func (c *course) atTop(v *verdict, r record.Reading) error {
	const allowDB = 4
	if c.plan.ToneHz == 0 || !v.curve.ok || v.contradict() || c.plan.ToStandard {
		return nil
	}
	if under := v.curve.at(v.curve.centre) - r.TrebleDB; under > allowDB {
		return &stop{outcome: record.TooUncertain,
			say: fmt.Sprintf("at the place found the tone is %.1f dB under its top", under),
			do:  "align again; if it comes again, use --stop-and-measure"}
	}
	return nil
}

// farOff is how far off the place must have been to be listened to once more,
// arcmin: so far the gearing's own uncertainty counts.
const farOff = 2

// dwell listens at a place until the mean tilt is known nearly as well as what the
// optimum's own uncertainty leaves of what is asked for, by what the tape's skew
// did so far and by the scatter within the dwell itself. It answers with the uncertainty of the mean, arcmin.
func (c *course) dwell(ctx context.Context, v *verdict) (record.Reading, float64, error) {
	need := 0.9 * math.Sqrt(max(0, c.plan.WithinArcmin*c.plan.WithinArcmin-v.xSD*v.xSD))
	least := max(leastDwellSeconds, c.plan.ProofSeconds/2)
	var r record.Reading
	for first := true; ; first = false {
		var err error
		if first {
			r, err = c.listen(ctx, least)
		} else {
			r, err = c.listenOn(ctx, dwellPieceSeconds)
		}
		if err == nil && c.toneGone(r) {
			err = toneOver()
		}
		if err != nil {
			return r, 0, err
		}
		sd := max(v.wander.meanSD(r.Seconds), r.DelaySDUS/USPerArcmin)
		if sd <= need || r.Seconds >= mostDwellSeconds {
			r.DelayTrackedUS = c.count(r)
			return r, sd, nil
		}
	}
}

// offTilt is by how much the measured tilt differs from the one wanted, arcmin.
func (c *course) offTilt(v verdict, r record.Reading, want float64) float64 {
	off := r.DelayTrackedUS/USPerArcmin - v.shift - want
	if r.DelayPeriodUS > 0 {
		// the jig's count is good to far less than a period
		off = math.Remainder(off, r.DelayPeriodUS/USPerArcmin)
	}
	return off
}

// leave lets go of the motor, has the blade withdrawn, and measures as left.
func (c *course) leave(ctx context.Context, verified *record.Reading) error {
	left := record.Left{ScrewDeg: c.screwDeg, Verified: verified, BladeTiltArcmin: c.blade.arcmin}
	if err := c.Jig.Release(ctx); err != nil {
		return err
	}
	if err := c.handle(ctx, WithdrawBlade); err != nil {
		return err
	}
	if err := c.openClip("as-left"); err != nil {
		return err
	}
	c.tell("as left", "listening with the motor off and the blade away")
	r, err := c.listen(ctx, c.plan.ProofSeconds)
	if err != nil {
		return err
	}
	if left.Clip, err = c.closeClip(); err != nil {
		return err
	}
	left.Released = &r
	left.TravelDeg = float64(c.Jig.Travel())
	c.left = left
	return c.save(record.Entry{Kind: record.KindLeft, Left: &left})
}
