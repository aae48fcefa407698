package byhand

import (
	"context"
	"errors"
	"math"

	"headtrue/sweep/estimate"
	"headtrue/sweep/record"
	"headtrue/sweep/session"
	"headtrue/sweep/stream"
)

// target is the optimum to which the person is led.
type target struct {
	verdict *estimate.Verdict
	tilt    float64 // arcmin by the delay
	shift   float64 // by which tracked tilts exceed those in the period of the optimum
}

func (h *Hand) targetOf(v *estimate.Verdict) *target { return &target{verdict: v, tilt: v.TiltArcmin} }

// off returns the distance of a tracked tilt from the target, arcmin.
func (t *target) off(tracked float64) float64 { return tracked - t.shift - t.tilt }

// Limits of placed.
const (
	lobeDB      = 11 // below its top only the main lobe of a tone is heard; the next one is 13 dB down
	stretchMost = 300
	mostMisfit  = 2.5 // mean square, dB^2, of the levels on their curve
	clearMisfit = 2   // by which any other period must fit worse
	outlierDB2  = 25
)

// placed finds the whole periods of the tracked tilt: those with which the levels heard since
// the head came into the main lobe lie on the treble curve. It reports whether they are clear. A programme leaves
// none open.
func (h *Hand) placed(t *target) bool {
	c := t.verdict.Treble
	if h.Plan.ToneHz == 0 || len(h.Plan.FurtherTonesHz) > 0 || !c.OK {
		return true
	}
	period := h.Plan.PeriodArcmin()
	stretch := h.stretch(c.At(c.Centre) - lobeDB)
	if len(stretch) < 5 {
		return false
	}
	last := h.Plan.Tape.Arcmin(stretch[0].Reading.DelayTrackedUS)
	lobe := c.M.NullArcmin()
	best, least, next := 0.0, math.Inf(1), math.Inf(1)
	for k := math.Ceil((last - t.tilt - lobe) / period); k*period <= last-t.tilt+lobe; k++ {
		sum := 0.0
		for _, s := range stretch {
			d := s.Reading.TrebleDB - c.At(h.Plan.Tape.Arcmin(s.Reading.DelayTrackedUS)-k*period)
			sum += min(d*d, outlierDB2)
		}
		switch misfit := sum / float64(len(stretch)); {
		case misfit < least:
			best, least, next = k, misfit, least
		case misfit < next:
			next = misfit
		}
	}
	if least > mostMisfit || next < least+clearMisfit {
		return false
	}
	t.shift = best * period
	return true
}

// stretch returns the latest steps, the last one first, back to the last that was fainter than
// a level.
func (h *Hand) stretch(leastDB float64) (latest []record.Step) {
	for i := len(h.steps) - 1; i >= 0 && len(latest) < stretchMost; i-- {
		s := h.steps[i]
		if s.Reading.TrebleDB < leastDB || !estimate.DelayUsable(s.Reading) {
			break
		}
		latest = append(latest, s)
	}
	return latest
}

// overTop has the person turn back over the top, until the whole periods are known.
func (h *Hand) overTop(ctx context.Context, t *target, side float64) error {
	for range mostTurns {
		err := h.turnUntil(ctx, phaseLead, stream.Edge, side, func(u *turn) bool {
			return h.placed(t) || u.outward()
		})
		if err != nil && !errors.Is(err, errEnd) {
			return err
		}
		if h.placed(t) {
			h.ask(phaseLead, stream.Guidance{Act: stream.HoldOn})
			return nil
		}
		side = -side
	}
	return &session.Stop{Outcome: record.TooUncertain, Say: "the top of the tone was not found again", Do: "run align --by-hand again, and turn more slowly"}
}

// unlikeDB is the greatest difference of a standing head's level from the curve.
const unlikeDB = 3

// fits reports whether a standing head's level is that of its distance from the optimum. If not,
// the whole periods of a tone were miscounted.
func (t *target) fits(off, trebleDB float64) bool {
	c := t.verdict.Treble
	if !c.M.IsTone || !c.OK || math.Abs(off) > c.M.HalfWidthArcmin(10) {
		return true
	}
	return math.Abs(trebleDB-c.At(t.tilt+off)) < unlikeDB
}
