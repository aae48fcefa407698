package byhand

import (
	"context"
	"errors"
	"fmt"
	"math"

	"headtrue/sweep/edges"
	"headtrue/sweep/estimate"
	"headtrue/sweep/record"
	"headtrue/sweep/session"
	"headtrue/sweep/stream"
)

// edgeReach is how far a turn goes from the centre, as a multiple of the distance to a dull
// edge.
const edgeReach = 1.2

// mostTurns is the number of turns over the top in which the edges must be found.
const mostTurns = 6

// Bracket leads the person to both dull edges. If a known delay alone is sufficient, none is
// needed.
func (h *Hand) Bracket(ctx context.Context) error {
	if h.delayAlone() {
		if ok, err := h.findKnown(ctx); ok || err != nil {
			return err
		}
	}
	return h.bothEdges(ctx)
}

func (h *Hand) bothEdges(ctx context.Context) error {
	h.Tell(phaseEdges, "looking for both dull edges")
	side, act := 0.0, stream.TurnOn
	if h.sense.known() {
		side = h.firstSide()
	}
	for range mostTurns {
		err := h.turnUntil(ctx, phaseEdges, act, side, func(t *turn) bool { return h.bracketed() || t.outward() || h.hearGap() || t.stillAtZero() })
		if err == nil && h.isOne {
			return ErrNoDelay
		}
		if err != nil && !errors.Is(err, errEnd) {
			return err
		}
		if h.bracketed() {
			return nil
		}
		side = h.lastSide(side)
		if errors.Is(err, errEnd) {
			h.atEnd[side] = true
			if h.bracketed() {
				return nil
			}
			h.Warn("screw", "the head does not move any further this way: turn back, and force nothing")
		}
		side, act = -side, stream.Edge
	}
	return h.notBracketed()
}

// firstSide points to the delay zero, if the delay of a programme shows it.
func (h *Hand) firstSide() float64 {
	if h.found != nil && h.found.Reading.DelayPeriodUS == 0 {
		if x := h.tiltOff(h.found.Reading); math.Abs(x) > clearArcmin {
			return -math.Copysign(1, x)
		}
	}
	return 1
}

// tiltOff returns the tilt of a reading from the expected delay zero, arcmin.
func (h *Hand) tiltOff(r record.Reading) float64 {
	return h.Plan.Tape.Arcmin(r.DelayTrackedUS - h.Plan.ChannelDelayUS)
}

// lastSide is the side towards which the last turn went; asked is that asked for, or 0.
func (h *Hand) lastSide(asked float64) float64 {
	if asked != 0 {
		return asked
	}
	way := h.asked.Way
	if way == "" { // the person was asked to stop meanwhile
		way = h.last
	}
	if h.sense.votes < 0 == (way == stream.Clockwise) {
		return -1
	}
	return 1
}

// samples returns the treble over the tilt, in one period.
func (h *Hand) samples() (s []edges.Sample, lastTilt float64, lastOK bool) {
	ps := h.Plan.InReach(h.steps)
	for _, p := range ps {
		if p.ByX {
			s = append(s, edges.Sample{At: p.X, DB: p.DB, SD: p.DBSD})
		}
	}
	if n := len(ps); n > 0 {
		lastTilt, lastOK = ps[n-1].X, ps[n-1].ByX
	}
	return s, lastTilt, lastOK
}

// bracketed reports whether both dull edges of the true top were heard, and the head now stands
// beyond one of them.
func (h *Hand) bracketed() bool {
	s, now, ok := h.samples()
	if !ok || len(s) < 10 {
		return false
	}
	half := h.Plan.Material().HalfWidthArcmin(h.Plan.DullDB)
	if h.Plan.ToneHz == 0 {
		zero := h.Plan.Tape.Arcmin(h.Plan.ChannelDelayUS)
		lo, hi := span(s)
		return lo < zero-h.reach(-1)*half && hi > zero+h.reach(1)*half
	}
	e := edges.Find(s, h.Plan.DullDB, true)
	wide := e.High - e.Low
	return e.LowOK && e.HighOK && wide > 0.75*2*half && wide < 1.5*2*half && math.Abs(now-e.Mid()) > half
}

// reach is how far the head must have gone to a side, as a multiple of the distance to a dull
// edge. If the screw has its end there, the part before it must do.
func (h *Hand) reach(side float64) float64 {
	if h.atEnd[side] {
		return endReach
	}
	return edgeReach
}

// endReach is the least reach to a side at which the screw ends.
const endReach = 0.5

func span(s []edges.Sample) (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, p := range s {
		lo, hi = min(lo, p.At), max(hi, p.At)
	}
	return lo, hi
}

// outward reports whether the turn leads away from the top: the best place heard in it lies
// further back than a side lobe can lie from the top, and it has become dull since.
func (t *turn) outward() bool {
	side, kept := t.towards(), t.steps[t.first:]
	if side == 0 || len(kept) == 0 {
		return false
	}
	last := kept[len(kept)-1].Reading
	if !estimate.DelayUsable(last) {
		return false
	}
	now := t.Plan.Tape.Arcmin(last.DelayTrackedUS)
	if t.Plan.ToneHz == 0 {
		zero, half := t.Plan.Tape.Arcmin(t.Plan.ChannelDelayUS), t.Plan.Material().HalfWidthArcmin(t.Plan.DullDB)
		return side*(now-zero) > edgeReach*half+t.Plan.Tape.Arcmin(t.Plan.ChannelDelaySDUS)
	}
	best := kept[0].Reading
	for _, s := range kept {
		if s.Reading.TrebleDB > best.TrebleDB && estimate.DelayUsable(s.Reading) {
			best = s.Reading
		}
	}
	away := side * (now - t.Plan.Tape.Arcmin(best.DelayTrackedUS))
	return away > 1.1*t.Plan.Material().NullArcmin() && best.TrebleDB-last.TrebleDB > t.Plan.DullDB
}

func (h *Hand) notBracketed() error {
	s, _, _ := h.samples()
	why := edges.Find(s, h.Plan.DullDB, true).Missing()
	if why == "" {
		why = "the top between them may be a false one"
	}
	return &session.Stop{Outcome: record.TravelLimit, Say: fmt.Sprintf("both dull edges were not found: %s", why),
		Do: "see whether the screw can turn further (never force it), and whether the tape has enough treble; then begin anew"}
}
