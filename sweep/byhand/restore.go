package byhand

import (
	"context"
	"math"

	"headtrue/sweep/estimate"
	"headtrue/sweep/record"
)

// Past is what a restore by hand needs of the run that it undoes.
type Past struct {
	Reading  record.Reading   // as found, with the blade off
	Decision *record.Decision // nil if the run has not decided
}

// Back is the result of a restore by hand: the distance from as found, with its standard
// deviation, arcmin. UnlikeDB is by how much the treble differs from that of as found.
type Back struct {
	OffArcmin, SDArcmin float64
	UnlikeDB            float64
}

// Restore leads the person back to the tilt as a past run found it.
func (h *Hand) Restore(ctx context.Context, past Past) (Back, error) {
	at := h.asFoundOf(past)
	if err := h.lead(ctx, at); err != nil {
		return Back{}, err
	}
	d, err := h.hearLeft(ctx, estimate.UsualWander())
	if err != nil {
		return Back{}, err
	}
	b := Back{OffArcmin: h.offLeft(d, at), SDArcmin: estimate.TiltSD(h.Plan.Tape, d.All, past.Reading),
		UnlikeDB: math.Abs(d.All.TrebleDB - past.Reading.TrebleDB)}
	return b, h.Save(record.Entry{Kind: record.KindLeft, Left: &h.Left})
}

// asFoundOf returns the tilt as found as a target. The fitted curve of the past run shows in
// which period of a tone that is; without it the smallest turn that fits is taken.
func (h *Hand) asFoundOf(past Past) *target {
	t := &target{tilt: h.Plan.Tape.Arcmin(past.Reading.DelayUS), sd: estimate.OwnSD(h.Plan.Tape, past.Reading)}
	if !h.leavesPeriods() {
		return t
	}
	if l, found := h.lobeOf(past.Decision); l != nil {
		t.lobe, t.tilt = l, found
		return t
	}
	if h.found != nil { // the nearest place with that delay
		now := h.Plan.Tape.Arcmin(h.found.Reading.DelayTrackedUS)
		t.tilt = now + math.Remainder(t.tilt-now, h.Plan.PeriodArcmin())
	}
	return t
}

// lobeOf returns the lobe that a past decision has drawn, and the tilt as found on it.
func (h *Hand) lobeOf(d *record.Decision) (*lobe, float64) {
	if d == nil || d.Optimum.TiltArcmin == nil || d.FoundOffArcmin == nil || len(d.Curve) < 2 {
		return nil, 0
	}
	centre := *d.Optimum.TiltArcmin
	var tilt, db []float64
	top := math.Inf(-1)
	for _, p := range d.Curve {
		if p.TiltArcmin == nil {
			return nil, 0
		}
		tilt, db = append(tilt, *p.TiltArcmin), append(db, p.TrebleDB)
		top = max(top, p.TrebleDB)
	}
	level := func(x float64) float64 {
		for i := 1; i < len(tilt); i++ {
			if lo, hi := tilt[i-1], tilt[i]; x >= lo && x <= hi && hi > lo {
				return db[i-1] + (x-lo)/(hi-lo)*(db[i]-db[i-1])
			}
		}
		return top - outsideDB
	}
	return &lobe{level, centre, h.Plan.PeriodArcmin(), h.Plan.Material().NullArcmin(), top}, centre + *d.FoundOffArcmin
}

// outsideDB is how far below its top a tone counts outside of a drawn curve.
const outsideDB = 20
