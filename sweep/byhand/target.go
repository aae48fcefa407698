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

// mostStretch is the greatest number of steps by which the periods are found.
const mostStretch = 300

// placed finds the whole periods of the tracked tilt by the levels heard since the head came
// into the main lobe of the tone. It reports whether they are clear. A programme leaves none
// open.
func (h *Hand) placed(t *target) bool {
	c := t.verdict.Treble
	if h.Plan.ToneHz == 0 || len(h.Plan.FurtherTonesHz) > 0 || !c.OK {
		return true
	}
	var tilt, db []float64
	for i := len(h.steps) - 1; i >= 0 && len(tilt) < mostStretch; i-- {
		r := h.steps[i].Reading
		if r.TrebleDB < c.At(c.Centre)-estimate.LobeDB || !estimate.DelayUsable(r) {
			break
		}
		tilt, db = append(tilt, h.Plan.Tape.Arcmin(r.DelayTrackedUS)), append(db, r.TrebleDB)
	}
	shift, ok := estimate.Periods(tilt, db, c.At, t.tilt, c.M.NullArcmin(), h.Plan.PeriodArcmin())
	if ok {
		t.shift = shift
	}
	return ok
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
