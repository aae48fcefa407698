package byhand

import (
	"context"
	"errors"
	"fmt"
	"math"

	"headtrue/sweep/estimate"
	"headtrue/sweep/figures"
	"headtrue/sweep/record"
	"headtrue/sweep/session"
	"headtrue/sweep/stream"
)

const (
	// leastPasses is the least number of turns across the top; mostPasses is a limit on a
	// person's patience.
	leastPasses, mostPasses = 2, 8
	// mostSearchSeconds is the tape after which no further turn across the top is asked for.
	mostSearchSeconds = 60
	// mostSDArcmin is the greatest accepted standard deviation of the optimum, as with a jig.
	mostSDArcmin = 5
	// centreShare is the fraction of the requested uncertainty that the centre may have: the
	// rest is for the person's last turn.
	centreShare = 0.6
)

// Refine leads across the top, from edge to edge, until the optimum is known well enough.
func (h *Hand) Refine(ctx context.Context) (estimate.Verdict, error) {
	if h.known != nil {
		v, ok := h.decideKnown()
		if ok {
			return v, nil
		}
		if err := h.notAlone(ctx, "the treble has its top elsewhere"); err != nil {
			return v, err
		}
	}
	v := h.decide()
	for pass := 0; pass < mostPasses; pass++ {
		sd := v.TiltSDArcmin
		if pass >= leastPasses-1 && v.Optimum.OK && (sd <= centreShare*h.Plan.WithinArcmin || v.KindsAlone(centreShare*h.Plan.WithinArcmin, sd)) ||
			pass > 0 && h.TapeSeconds() > mostSearchSeconds || h.Finishing() {
			break
		}
		side := h.otherSide(v)
		err := h.turnUntil(ctx, phaseMore, stream.Edge, side, func(t *turn) bool { return h.across(v, side) || t.outward() })
		if err != nil && !errors.Is(err, errEnd) {
			return v, err
		}
		v = h.decide()
		if v.Optimum.OK {
			h.Tell(phaseMore, "optimum so far known to%s (95 %%)", figures.PlusMinus(&v.Optimum.SDArcmin, "'"))
		}
		if err != nil {
			break
		}
	}
	switch {
	case !v.Optimum.OK:
		return v, &session.Stop{Outcome: record.TooUncertain, Say: "no optimum could be found: " + v.Optimum.Why,
			Do: "use a tape with more treble, or a tone"}
	case v.MeasuredSDArcmin > mostSDArcmin:
		return v, &session.Stop{Outcome: record.TooUncertain, Say: fmt.Sprintf("the optimum is known to%s only (95 %%)", figures.PlusMinus(&v.MeasuredSDArcmin, "'")),
			Do: "use a tape with more treble, or a tone"}
	}
	return v, nil
}

// notAlone gives the known delay up and finds both dull edges.
func (h *Hand) notAlone(ctx context.Context, why string) error {
	h.known = nil
	h.Warn("delay", "the fixed delay between the channels does not fit, since %s: both dull edges are needed", why)
	return h.bothEdges(ctx)
}

func (h *Hand) decide() estimate.Verdict { return estimate.DecideByTilt(h.steps, h.found, h.Plan) }

// otherSide is the side of the top on which the head does not stand.
func (h *Hand) otherSide(v estimate.Verdict) float64 {
	if off, ok := h.offNow(v); ok {
		return -math.Copysign(1, off)
	}
	return -h.lastSide(0)
}

// offNow returns the present distance from the optimum, as far as it is known.
func (h *Hand) offNow(v estimate.Verdict) (off float64, ok bool) {
	if len(h.steps) == 0 {
		return 0, false
	}
	t := h.optimum(&v)
	if !v.Optimum.OK {
		t.tilt = h.Plan.Tape.Arcmin(h.Plan.ChannelDelayUS)
	}
	last := h.steps[len(h.steps)-1].Reading
	ok = h.placed(t) && estimate.DelayUsable(last)
	return t.off(h.Plan.Tape.Arcmin(last.DelayTrackedUS)), ok
}

// across reports whether the head has come beyond the dull edge on a side.
func (h *Hand) across(v estimate.Verdict, side float64) bool {
	off, ok := h.offNow(v)
	return ok && side*off > edgeReach*h.Plan.Material().HalfWidthArcmin(h.Plan.DullDB)
}
