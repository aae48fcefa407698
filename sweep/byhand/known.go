package byhand

import (
	"context"
	"errors"
	"math"

	"headtrue/sweep/estimate"
	"headtrue/sweep/figures"
	"headtrue/sweep/record"
	"headtrue/sweep/stream"
	"headtrue/sweep/tape"
)

// delayAlone reports whether the delay alone is sufficient to set the head by hand.
func (h *Hand) delayAlone() bool {
	return !h.Plan.ByTreble && h.Plan.Tape.Arcmin(h.Plan.ChannelDelaySDUS) <= centreShare*h.Plan.WithinArcmin
}

// findKnown finds the optimum by the known delay alone. Of a tone it leads over some part of
// the lobe, until the whole periods are clear. It reports whether it has found it.
func (h *Hand) findKnown(ctx context.Context) (bool, error) {
	t := &target{tilt: h.Plan.Tape.Arcmin(h.Plan.ChannelDelayUS), sd: h.Plan.Tape.Arcmin(h.Plan.ChannelDelaySDUS)}
	if !h.leavesPeriods() {
		if h.found == nil {
			return false, nil
		}
	} else if ok, err := h.findPeriod(ctx, t); !ok || err != nil {
		return false, err
	}
	h.known = t
	h.Tell(phaseEdges, "the fixed delay between the channels is known to%s (95 %%): the delay alone leads to the optimum",
		figures.PlusMinus(&h.Plan.ChannelDelaySDUS, " us"))
	return true, nil
}

// mostPeriodTurns is the number of turns in which the whole periods of a tone must become clear.
const mostPeriodTurns = 3

// findPeriod has the person turn until the shape of the lobe shows the whole periods.
func (h *Hand) findPeriod(ctx context.Context, t *target) (bool, error) {
	h.Tell(phaseEdges, "the fixed delay between the channels is known: looking for the top of the tone")
	side, act := 0.0, stream.TurnOn
	if h.sense.known() && h.found != nil {
		off := math.Remainder(h.tiltOff(h.found.Reading), h.Plan.PeriodArcmin())
		side = -math.Copysign(1, off)
	}
	for range mostPeriodTurns {
		err := h.turnUntil(ctx, phaseEdges, act, side, func(u *turn) bool { return h.whole(t) || u.outward() })
		if err != nil && !errors.Is(err, errEnd) {
			return false, err
		}
		if t.found {
			return true, h.hold(ctx)
		}
		side, act = -h.lastSide(side), stream.Edge
	}
	return false, nil
}

// whole finds the whole periods by the levels heard since the last null, and reports whether
// they are clear. The level of the top is unknown: the shape of the lobe decides.
func (h *Hand) whole(t *target) bool {
	lo, hi := math.Inf(1), math.Inf(-1)
	var tilt, db []float64
	for i := len(h.steps) - 1; i >= 0 && len(tilt) < mostStretch; i-- {
		r := h.steps[i].Reading
		lo, hi = min(lo, r.TrebleDB), max(hi, r.TrebleDB)
		if hi-lo > estimate.LobeDB || !estimate.DelayUsable(r) {
			break
		}
		tilt, db = append(tilt, h.Plan.Tape.Arcmin(r.DelayTrackedUS)), append(db, r.TrebleDB)
	}
	m := h.Plan.Material()
	shape := m.Shape(tape.Lobe{})
	fall := func(x float64) float64 { return tape.Decibels(shape.Power(x-t.tilt) + estimate.NullFloor) }
	shift, top, ok := estimate.PeriodsByShape(tilt, db, fall, t.tilt, h.Plan.PeriodArcmin())
	if !ok || math.Abs(tilt[0]-shift-t.tilt) > m.NullArcmin() {
		return false // in a side lobe: those are alike
	}
	t.shift, t.found = shift, true
	t.lobe = &lobe{func(x float64) float64 { return top + fall(x) }, t.tilt, h.Plan.PeriodArcmin(), m.NullArcmin(), top}
	return true
}

// decideKnown returns the decision by a known delay; ok is false if the treble contradicts it.
func (h *Hand) decideKnown() (v estimate.Verdict, ok bool) {
	t := h.known
	v = h.decide()
	if h.contradicted(v) {
		return v, false
	}
	t.tilt, t.sd = v.TiltArcmin, v.TiltSDArcmin
	if t.lobe != nil && len(v.Curve) == 0 {
		v.Curve = h.drawn(t)
	}
	v.FoundOffArcmin = nil
	if h.found != nil {
		off := t.off(h.Plan.Tape.Arcmin(h.found.Reading.DelayTrackedUS))
		if t.lobe == nil || math.Abs(h.found.Reading.TrebleDB-t.lobe.level(t.tilt+off)) < unlikeDB {
			v.FoundOffArcmin, v.FoundOffSDArcmin = &off, math.Hypot(estimate.OwnSD(h.Plan.Tape, h.found.Reading), t.sd)
		}
	}
	return v, v.Optimum.OK
}

// drawn returns the curve of a lobe over the tilts heard in it, in the period of the target.
func (h *Hand) drawn(t *target) (curve []record.CurvePoint) {
	lo, hi := t.lobe.centre, t.lobe.centre
	for _, s := range h.steps {
		x := h.Plan.Tape.Arcmin(s.Reading.DelayTrackedUS) - t.shift
		if estimate.DelayUsable(s.Reading) && math.Abs(x-t.lobe.centre) < t.lobe.null {
			lo, hi = min(lo, x), max(hi, x)
		}
	}
	const n = 61
	for i := range n {
		x := lo + (hi-lo)*float64(i)/(n-1)
		curve = append(curve, record.CurvePoint{ScrewDeg: math.NaN(), TiltArcmin: &x, TrebleDB: t.lobe.level(x)})
	}
	return curve
}

// contradicted reports whether the treble has its top clearly away from the known delay.
func (h *Hand) contradicted(v estimate.Verdict) bool {
	return v.Contradict(h.Plan) && math.Abs(v.Treble.Centre-h.Plan.Tape.Arcmin(h.Plan.ChannelDelayUS)) > nearArcmin
}

// doubt says what speaks against the known delay once it has led to its optimum; empty if
// nothing does.
func (h *Hand) doubt() string {
	switch {
	case h.known == nil:
		return ""
	case h.contradicted(h.decide()):
		return "the treble has its top elsewhere"
	case h.duller(h.trebleDB):
		return "the treble has not risen"
	}
	return ""
}

// duller reports whether the treble of a programme has not risen on the way to the optimum by
// half of what the way explains: then the delay is not that of the head.
func (h *Hand) duller(trebleDB float64) bool {
	if h.Plan.ToneHz > 0 || h.found == nil {
		return false
	}
	const chance = 2 // dB, by which music differs from one moment to the next
	m := h.Plan.Material()
	gain := -tape.Decibels(m.Power(h.known.off(h.Plan.Tape.Arcmin(h.found.Reading.DelayTrackedUS))))
	return trebleDB-h.found.Reading.TrebleDB < gain/2-chance
}
