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

// target is the tilt to which the person is led.
type target struct {
	tilt  float64 // arcmin by the delay
	sd    float64 // of it
	shift float64 // by which tracked tilts exceed those in the period of the target
	found bool    // the periods were found
	lobe  *lobe   // of a tone that leaves whole periods open; else nil
}

// lobe is the level of a tone over the tilt by delay.
type lobe struct {
	level          func(tilt float64) float64 // dB
	centre, period float64                    // arcmin
	null, top      float64                    // arcmin from the centre, dB
}

// optimum returns the target of a decision.
func (h *Hand) optimum(v *estimate.Verdict) *target {
	t := &target{tilt: v.TiltArcmin, sd: v.TiltSDArcmin}
	if c := v.Treble; h.leavesPeriods() && c.OK {
		t.lobe = &lobe{c.At, c.Centre, h.Plan.PeriodArcmin(), c.M.NullArcmin(), c.At(c.Centre)}
	}
	return t
}

// leavesPeriods reports whether the delay is known only to whole periods.
func (h *Hand) leavesPeriods() bool { return h.Plan.ToneHz > 0 && len(h.Plan.FurtherTonesHz) == 0 }

// off returns the distance of a tracked tilt from the target, arcmin.
func (t *target) off(tracked float64) float64 { return tracked - t.shift - t.tilt }

// mostStretch is the greatest number of steps by which the periods are found.
const mostStretch = 300

// placed finds the whole periods of the tracked tilt by the levels heard since the head came
// into the main lobe of the tone. It reports whether they are clear. A programme leaves none
// open.
func (h *Hand) placed(t *target) bool {
	l := t.lobe
	if l == nil || t.found && t.outside() {
		return true
	}
	var tilt, db []float64
	for i := len(h.steps) - 1; i >= 0 && len(tilt) < mostStretch; i-- {
		r := h.steps[i].Reading
		if r.TrebleDB < l.top-estimate.LobeDB || !estimate.DelayUsable(r) {
			break
		}
		tilt, db = append(tilt, h.Plan.Tape.Arcmin(r.DelayTrackedUS)), append(db, r.TrebleDB)
	}
	shift, ok := estimate.Periods(tilt, db, l.level, l.centre, l.null, l.period)
	if ok {
		t.shift, t.found = shift, true
	}
	return ok
}

// outside reports whether the target lies outside of the main lobe. Beyond it the periods are
// only tracked, and the level at the end shows whether that was right.
func (t *target) outside() bool { return math.Abs(t.tilt-t.lobe.centre) > insideLobe*t.lobe.null }

// insideLobe is the part of the way to the null within which the levels show the place.
const insideLobe = 0.75

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
			return h.hold(ctx)
		}
		side = -side
	}
	return &session.Stop{Outcome: record.TooUncertain, Say: "the top of the tone was not found again", Do: "run align --by-hand again, and turn more slowly"}
}

// unlikeDB is the greatest difference of a standing head's level from the curve.
const unlikeDB = 3

// fits reports whether a standing head's level is that of its distance from the target. If not,
// the whole periods of a tone were miscounted.
func (t *target) fits(off, trebleDB float64) bool {
	l := t.lobe
	if l == nil || math.Abs(t.tilt+off-l.centre) > insideLobe*l.null {
		return true
	}
	return math.Abs(trebleDB-l.level(t.tilt+off)) < unlikeDB
}
