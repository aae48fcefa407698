package sweep

import (
	"context"
	"math"

	"headtrue/dsp"
)

// Limits of the listening at the place, seconds.
const (
	leastDwellSeconds = 0.5
	dwellPieceSeconds = 0.25
	mostDwellSeconds  = 8
	// mostDwellGone may go by meanwhile, what was left out included.
	mostDwellGone = 3 * mostDwellSeconds
)

// worthDwelling is the share of all other uncertainty below which that of the
// dwell is not worth more tape.
const worthDwelling = 0.4

// mixDwellSD is enough for a place that the treble has set, arcmin: what is heard as
// left is held against it.
const mixDwellSD = 0.3

// dwell listens at a place until the tilt there is known as well as all other
// uncertainty leaves of what is asked for.
func (c *course) dwell(ctx context.Context, v *verdict) (dwelt, error) {
	rest := math.Hypot(math.Hypot(v.tiltSDArcmin, c.blade.sd), v.arrivalSD())
	need := max(math.Sqrt(max(0, c.plan.WithinArcmin*c.plan.WithinArcmin-rest*rest)), worthDwelling*rest)
	least := max(leastDwellSeconds, c.plan.ProofSeconds/2)
	if c.plan.BothSides {
		least = max(least, sideSeconds)
	}
	return c.dwellUntil(ctx, v, func(seconds, ownSD float64) bool {
		return seconds >= least && (c.plan.byTreble && ownSD <= mixDwellSD || ownSD*math.Sqrt(v.gain(ownSD)) <= need)
	})
}

// dwellUntil listens at a place in pieces until the seconds and the uncertainty of
// the tilt there, arcmin, are enough.
func (c *course) dwellUntil(ctx context.Context, v *verdict, enough func(seconds, ownSD float64) bool) (dwelt, error) {
	piece := dsp.NewMeter(c.Sound.Rate(), c.plan.ToneHz, c.plan.FurtherTonesHz...)
	heard := standing{tape: c.plan.Tape}
	c.meter.Reset()
	for tries, gone := 0, 0.0; ; {
		piece.Reset()
		if err := c.feed(ctx, dwellPieceSeconds, piece, c.meter); err != nil {
			return dwelt{}, err
		}
		gone += dwellPieceSeconds
		all, raw := c.read(c.meter)
		p, rawPiece := c.read(piece)
		trouble := c.judge(p, rawPiece) // a silence hardly shows in the mean of all
		if trouble == nil {
			trouble = c.judge(all, raw)
		}
		if trouble == nil && c.toneGone(all) {
			trouble = toneOver()
		}
		if trouble != nil {
			if tries++; tries == mostTries {
				return dwelt{}, trouble
			}
			if err := c.waitOut(ctx, trouble); err != nil {
				return dwelt{}, err
			}
			c.meter.Reset()
			heard = standing{tape: c.plan.Tape}
			continue
		}
		heard.add(p, c.tapeSeconds()-p.Seconds/2, all)
		d := heard.weigh(v.wander, all)
		if enough(all.Seconds, d.ownSD) || all.Seconds >= mostDwellSeconds || gone >= mostDwellGone {
			if err := c.heardMoving(heard); err != nil {
				return dwelt{}, err
			}
			c.straight.Add(&raw.Straight)
			d.straight = raw.Straight
			d.all.DelayTrackedUS = c.count(d.all)
			d.tilt += c.plan.Tape.Arcmin(d.all.DelayTrackedUS - d.all.DelayUS)
			return d, nil
		}
	}
}
