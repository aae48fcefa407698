package search

import (
	"context"
	"errors"
	"fmt"
	"math"

	"headtrue/dsp"
	"headtrue/sweep/estimate"
	"headtrue/sweep/record"
	"headtrue/sweep/session"
)

// ToOptimum arrives at the optimum from the home side and listens there until the tape's
// wander is averaged out as far as requested. It corrects the remaining error and saves the
// decision. The delay line's place and the sound there are weighted by their uncertainties.
func (c *Search) ToOptimum(ctx context.Context, v *estimate.Verdict) (record.Reading, error) {
	verified, err := c.toPlace(ctx, v)
	if !errors.Is(err, ErrSecondSource) {
		return verified, err
	}
	c.Tell("refine", "at this place instruments may have delays of their own: the treble sets the head")
	if *v, err = c.Refine(ctx); err != nil {
		return verified, err
	}
	if err := c.Save(record.Entry{Kind: record.KindDecision, Decision: &v.Decision}); err != nil {
		return verified, err
	}
	return c.toPlace(ctx, v)
}

// toPlace drives to the optimum once; ErrSecondSource means that the treble must find it
// first.
func (c *Search) toPlace(ctx context.Context, v *estimate.Verdict) (verified record.Reading, err error) {
	if c.Plan.ByTreble {
		c.doubtBlade(v)
	}
	target := c.seatedDeg(*v)
	onTheWay, firstOff, firstSD := v.Optimum.Deg, 0.0, 0.0
	var other *estimate.Dwelt
	var place dsp.Straight
	var places []estimate.Point
	var moved *leap
	var before *OffAt
	again := 0
	if c.Plan.BothSides && v.Line.OK && !c.Plan.ByTreble {
		d, err := c.otherSide(ctx, v, target)
		if err != nil {
			return verified, err
		}
		other = &d
	}
	c.Tell("drive back", "to the optimum at %.1f degrees, from the home side", target)
	for try := 0; ; try++ {
		if err := c.GoTo(ctx, target, true); err != nil {
			return verified, err
		}
		c.Tell("verify", "listening at the optimum")
		d, err := c.dwell(ctx, v)
		if err == nil {
			d, err = c.makeSure(ctx, v, d)
		}
		if err != nil {
			return verified, err
		}
		verified, place, c.VerifiedAt = d.All, d.Straight, c.TapeSeconds()-d.All.Seconds/2
		if c.Plan.ByTreble {
			if err := c.checkCount(v, d); err != nil {
				return verified, err
			}
			if err := checkPlaceTreble(v, verified); err != nil {
				return verified, err
			}
			c.byCount(v, d, target)
			break
		}
		if !v.Line.OK || !estimate.DelayUsable(verified) {
			if err := c.material.atTop(v, verified); err != nil {
				return verified, err
			}
			break
		}
		if other != nil {
			v.NoteBacklash(*other, d, c.HomeSide(), c.Plan.Tape.Arcmin(max(other.All.DelayPeriodUS, verified.DelayPeriodUS)))
			other = nil
		}
		raw, fits := c.material.placeOff(v, d, c.seatedTilt(*v), v.ExpectedSD())
		if !fits && again < mostListenings {
			again++
			c.Tell("verify", "level and delay of the tone do not fit each other here: listening again")
			continue
		}
		if !fits {
			if err := noTop(v, verified); err != nil {
				return verified, err
			}
			v.DoubtPlace(v.Treble.At(v.Treble.Centre) - verified.TrebleDB)
		}
		if before != nil && before.stayedAt(target, d, v.Line.PerDeg, estimate.PeriodOf(c.Plan.Tape, d.All)) {
			return verified, notArrived(notTurned)
		}
		before = &OffAt{target, d.Tilt}
		if err := moved.confirmed(verified); err != nil {
			return verified, err
		}
		moved = c.material.leapOf(v, verified, raw)
		places = append(places, c.stood(v, d))
		gain := v.Gain(d.OwnSD)
		if math.Abs(raw) > estimate.Disagreement*math.Hypot(d.OwnSD, v.ExpectedSD()) {
			gain = 1 // the line does not fit this place: the sound there gets full weight
		}
		sd := d.OwnSD * math.Sqrt(gain)
		if try == 0 {
			firstOff, firstSD = raw, math.Hypot(d.OwnSD, v.ExpectedSD())
			c.NoteLostSteps(raw, math.Hypot(math.Hypot(d.OwnSD, v.Line.SD(target)), v.Line.Misfit()), v.Line.PerDeg)
		}
		off := gain * raw
		v.Line = v.Line.Anchored(target, off, sd)
		v.PlaceFound(c.Found.Seated, c.FoundHome, c.Plan)
		target -= off / v.Line.PerDeg
		v.Optimum.Deg -= off / v.Line.PerDeg
		v.MeasuredSDArcmin = math.Hypot(v.TiltSDArcmin, sd)
		if asLeft := math.Hypot(v.MeasuredSDArcmin, off); math.Abs(off) < c.worthMoving(asLeft) {
			v.MeasuredSDArcmin = asLeft
			break
		}
		v.MeasuredSDArcmin = math.Hypot(v.MeasuredSDArcmin, v.ArrivalSD())
		if err := c.elsewhere(try); err != nil {
			return verified, err
		}
		if try == mostCorrections {
			return verified, &session.Stop{Outcome: record.TooUncertain, Blame: record.CauseSpring,
				Say: fmt.Sprintf("the optimum could not be confirmed: each time the head was listened to there, it stood elsewhere, %.1f' off at the last", math.Abs(off)),
				Do:  "put the screw back with restore, then use a tone or a passage with steadier treble"}
		}
		c.Tell("drive back", "%.1f' off: correcting to %.1f degrees", off, target)
		if math.Abs(off) <= farOff {
			if err := c.GoTo(ctx, target, true); err != nil {
				return verified, err
			}
			break
		}
	}
	if v.MeasuredSDArcmin > mostSDArcmin {
		return verified, tooUncertain(v.MeasuredSDArcmin)
	}
	if len(places) > 0 {
		v.NotePlace(v.Optimum.Deg-onTheWay, math.Sqrt(max(0, v.MeasuredSDArcmin*v.MeasuredSDArcmin-v.TiltSDArcmin*v.TiltSDArcmin)), firstOff, firstSD)
	}
	c.tellDrive(v, places)
	if err := c.judgeMix(v, &place, verified.TrebleDB); err != nil {
		return verified, err
	}
	v.MeasuredSDArcmin = math.Hypot(v.MeasuredSDArcmin, c.Blade.Sd)
	v.Optimum.SDArcmin = v.MeasuredSDArcmin
	if c.Plan.ToStandard {
		v.Optimum.SDArcmin = math.Hypot(v.Optimum.SDArcmin, c.Plan.TapeTiltSDArcmin)
	}
	c.NoteFoundOff(v)
	return verified, c.Save(record.Entry{Kind: record.KindDecision, Decision: &v.Decision})
}

// NoteFoundOff records the tilt of as found from the optimum. Both places are those of a
// head with the blade seated.
func (c *Search) NoteFoundOff(v *estimate.Verdict) {
	if !v.FoundHomeOK {
		return
	}
	off := (v.FoundHomeDeg - c.seatedDeg(*v)) * v.GearingArcminPerTurn / 360
	v.FoundOffArcmin = &off
	v.FoundOffSDArcmin = math.Hypot(v.FoundHomeSDArcmin, v.Optimum.SDArcmin)
}

// worthMoving returns the least tilt error that is worth a move, arcmin. In a run by the
// delay alone whose uncertainty as it stands (asLeft) is within the request, a move would
// only cost tape.
func (c *Search) worthMoving(asLeft float64) float64 {
	const always = 0.05 // the error that a move itself leaves
	if c.byDelayAlone() && asLeft <= c.Plan.WithinArcmin {
		return max(always, c.Plan.WithinArcmin/2)
	}
	return always
}

// NoteLostSteps records the evidence that no steps were lost: an encoder, or a place that is
// heard at offArcmin from its counted position, with standard deviation sd in arcmin. A
// rotor falls behind by four full steps at least; the tilt of that must be clear of sd.
func (c *Search) NoteLostSteps(offArcmin, sd, perDeg float64) {
	if c.ShaftWatched() {
		c.Left.StepsCheckedBy = "encoder"
		return
	}
	lost := math.Abs(perDeg) * c.LostRoundDeg()
	switch {
	case lost < 4*sd: // the loss would not be visible
	case math.Abs(offArcmin) < lost/2:
		c.Left.StepsCheckedBy = "sound"
	case c.OnOneAxis() && wholeRounds(offArcmin, sd, lost):
		c.Tell("verify", "the head is heard %.1f' from its counted place: the motor may have lost steps; going by the sound", offArcmin)
	default:
		c.Tell("verify", "the head is heard %.1f' from its counted place: the gearing is uneven, the screw sticks, or the head creeps; going by the sound", offArcmin)
	}
}

// wholeRounds reports whether a place is off by whole rounds of full steps, as after lost
// steps; a fraction of a round has another cause.
func wholeRounds(offArcmin, sd, round float64) bool {
	rounds := math.Round(math.Abs(offArcmin) / round)
	return rounds > 0 && math.Abs(math.Abs(offArcmin)-rounds*round) < 2*sd
}

// mostListenings is how often a place is heard again if its level does not fit.
const mostListenings = 2

// farOff is the error, arcmin, above which the place is listened to once more: from there on
// the uncertainty of the gearing matters.
const farOff = 2

// mostCorrections is how many times a place may lie far off before the run gives up.
const mostCorrections = 4
