package search

import (
	"context"
	"math"

	"headtrue/sweep/estimate"
	"headtrue/sweep/session"
)

// Limits of the listening at the place, seconds.
const (
	leastDwellSeconds = 0.5
	mostDwellSeconds  = 8
	// mostDwellGone limits the tape time including the discarded sound.
	mostDwellGone = 3 * mostDwellSeconds
)

// worthDwelling is a share of all other uncertainty. A smaller uncertainty of the dwell is
// not worth more tape.
const worthDwelling = 0.4

// mixDwellSD is the required standard deviation at a place set by the treble, arcmin: the
// reading as left is compared with it.
const mixDwellSD = 0.3

// dwell listens at a place until the uncertainty of its tilt, with all other uncertainty, is
// within the request.
func (c *Search) dwell(ctx context.Context, v *estimate.Verdict) (estimate.Dwelt, error) {
	rest := math.Hypot(math.Hypot(v.TiltSDArcmin, c.Blade.Sd), v.ArrivalSD())
	need := max(math.Sqrt(max(0, c.Plan.WithinArcmin*c.Plan.WithinArcmin-rest*rest)), worthDwelling*rest)
	least := max(leastDwellSeconds, c.Plan.ProofSeconds/2)
	if c.Plan.BothSides {
		least = max(least, sideSeconds)
	}
	return c.DwellUntil(ctx, v, func(seconds, ownSD float64) bool {
		return seconds >= least && (c.Plan.ByTreble && ownSD <= mixDwellSD || ownSD*math.Sqrt(v.Gain(ownSD)) <= need)
	})
}

// DwellUntil listens at a place in pieces until enough accepts the seconds and the standard
// deviation of the tilt there, arcmin.
func (c *Search) DwellUntil(ctx context.Context, v *estimate.Verdict, enough func(seconds, ownSD float64) bool) (estimate.Dwelt, error) {
	piece, whole := c.NewMeter(), c.NewMeter()
	heard := estimate.Standing{Tape: c.Plan.Tape}
	for tries, gone := 0, 0.0; ; {
		piece.Reset()
		if err := c.Feed(ctx, dwellPieceSeconds, piece, whole); err != nil {
			return estimate.Dwelt{}, err
		}
		gone += dwellPieceSeconds
		all, raw := c.Read(whole)
		p, rawPiece := c.Read(piece)
		trouble := c.Judge(p, rawPiece) // a silence is hardly visible in the mean of all
		if trouble == nil {
			trouble = c.Judge(all, raw)
		}
		if trouble == nil && c.ToneGone(all) {
			trouble = toneOver()
		}
		if trouble != nil {
			if tries++; tries == session.MostTries {
				return estimate.Dwelt{}, trouble
			}
			if err := c.WaitOut(ctx, trouble); err != nil {
				return estimate.Dwelt{}, err
			}
			whole.Reset()
			heard = estimate.Standing{Tape: c.Plan.Tape}
			continue
		}
		heard.Add(p, c.TapeSeconds()-p.Seconds/2, all)
		d := heard.Weigh(v.Wander, all)
		if enough(all.Seconds, d.OwnSD) || all.Seconds >= mostDwellSeconds || gone >= mostDwellGone {
			if err := c.heardMoving(heard); err != nil {
				return estimate.Dwelt{}, err
			}
			c.Straight.Add(&raw.Straight)
			d.Straight = raw.Straight
			d.All.DelayTrackedUS = c.Count(d.All)
			d.Tilt += c.Plan.Tape.Arcmin(d.All.DelayTrackedUS - d.All.DelayUS)
			return d, nil
		}
	}
}

// sideSeconds is the listening time on each side of the optimum if the backlash is
// requested.
const sideSeconds = 4.0
