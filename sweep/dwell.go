package sweep

import (
	"context"
	"math"

	"headtrue/dsp"
	"headtrue/sweep/record"
	"headtrue/sweep/tape"
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

// standing is what is heard in pieces while the screw stands: tilts by delay in
// arcmin, and when on the tape.
type standing struct {
	tape tape.Format
	hearing
	tilt []float64
}

// dwelt is what a dwell has heard: all of it, the tilt by delay, and the
// uncertainty of that by noise and wander, arcmin.
type dwelt struct {
	all         record.Reading
	tilt, ownSD float64
	straight    dsp.Straight
}

// mixDwellSD is enough for a place that the treble has set, arcmin: what is heard as
// left is held against it.
const mixDwellSD = 0.3

// dwell listens at a place until the tilt there is known as well as all other
// uncertainty leaves of what is asked for.
func (c *course) dwell(ctx context.Context, v *verdict) (dwelt, error) {
	rest := math.Hypot(math.Hypot(v.xSD, c.blade.sd), v.arrivalSD())
	need := max(math.Sqrt(max(0, c.plan.WithinArcmin*c.plan.WithinArcmin-rest*rest)), worthDwelling*rest)
	least := max(leastDwellSeconds, c.plan.ProofSeconds/2)
	if c.plan.BothSides {
		least = max(least, sideSeconds)
	}
	return c.dwellUntil(ctx, v, func(seconds, ownSD float64) bool {
		return seconds >= least && (c.plan.mix.byTreble && ownSD <= mixDwellSD || ownSD*math.Sqrt(v.gain(ownSD)) <= need)
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

// weigh takes the mean of the pieces. A programme is loud and soft: the pieces
// weigh by time, as the wander asks for, where the meter weighs by power.
func (s *standing) weigh(before beliefs, all record.Reading) dwelt {
	d := dwelt{all: all, tilt: s.tape.Arcmin(all.DelayUS),
		ownSD: math.Hypot(before.meanSD(all.Seconds), s.tape.Arcmin(all.DelayNoiseSDUS))}
	if len(s.at) < 2 {
		return d
	}
	wander := before.given(func(d drift) float64 { return s.mean(d).misfit })
	d.tilt = s.mean(wander.likeliest()).tilt
	d.ownSD = wander.rootMean(func(d drift) float64 { return s.mean(d).variance })
	return d
}

// add keeps a piece; all tells which whole period of a tone is meant.
func (s *standing) add(piece record.Reading, at float64, all record.Reading) {
	if !delayUsable(piece) {
		return
	}
	us := piece.DelayUS
	if piece.DelayPeriodUS > 0 {
		us = all.DelayUS + math.Remainder(us-all.DelayUS, piece.DelayPeriodUS)
	}
	s.hearing.add(at, piece.Seconds, math.Max(s.tape.Arcmin(piece.DelayNoiseSDUS), leastPointSD))
	s.tilt = append(s.tilt, s.tape.Arcmin(us))
}

// mean is the mean of the pieces by generalised least squares, where the tape
// wanders by a drift; misfit is how badly that explains the pieces, the mean
// having taken out a part of it (restricted maximum likelihood, as for a mount).
func (s *standing) mean(d drift) (m struct{ tilt, variance, misfit float64 }) {
	w := newWhitener(d, s.hearing)
	ones, tilt := make([]float64, len(s.at)), make([]float64, len(s.at))
	for i := range ones {
		ones[i] = 1
	}
	w.whiten(ones, ones)
	w.whiten(tilt, s.tilt)
	var a, b, c float64
	for i := range ones {
		a += ones[i] * ones[i]
		b += ones[i] * tilt[i]
		c += tilt[i] * tilt[i]
	}
	m.tilt, m.variance, m.misfit = b/a, 1/a, w.logs+c-b*b/a+math.Log(a)
	return m
}
