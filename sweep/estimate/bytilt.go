package estimate

import (
	"math"
	"slices"

	"headtrue/sweep/record"
)

// DecideByTilt computes the decision of a run without degrees of screw: a person turns it by
// hand. The tilt by delay then stands for the place of the screw: the curve, the three
// estimates and their agreement are those of Decide, and the decision has places as tilts.
// found is the reading as found, nil if it cannot be compared.
func DecideByTilt(steps []record.Step, found *record.Step, p Task) Verdict {
	all := steps
	if found != nil {
		all = append([]record.Step{*found}, steps...)
	}
	ps := p.InReach(all)
	foundHeard := found != nil && len(ps) > 0 && ps[0].ByX
	ps = slices.DeleteFunc(ps, func(q Point) bool { return !q.ByX })
	for i := range ps {
		ps[i].Deg = ps[i].X
	}
	v := Verdict{Mount: Mount{Line: Line{OK: true, PerDeg: 1, N: len(ps)}, Wander: priorWander()}}
	v.DullDB = p.DullDB
	v.byDelay(ps, p)
	v.midpoint(ps, p)
	v.combine(p)
	v.agree(p)
	v.NameUnlike()
	v.draw(ps)
	v.onTilt()
	if foundHeard && v.Optimum.OK {
		off := ps[0].X - v.TiltArcmin
		v.FoundOffArcmin, v.FoundOffSDArcmin = &off, math.Hypot(OwnSD(p.Tape, found.Reading), v.TiltSDArcmin)
	}
	return v
}

// onTilt converts the decision from degrees to tilts by delay, in the period of the optimum.
func (v *Verdict) onTilt() {
	none := math.NaN()
	shift := v.Line.At0
	for _, e := range []*record.Estimate{&v.Midpoint, &v.Fitted, &v.DelayZero, &v.Optimum, v.Brightest} {
		if e != nil && e.OK {
			tilt := e.Deg + shift
			e.TiltArcmin = &tilt
		}
		if e != nil {
			e.Deg = none
		}
	}
	if v.Edges.LowOK && v.Edges.HighOK {
		low, high := v.LowEdgeDeg+shift, v.HighEdgeDeg+shift
		v.LowEdgeArcmin, v.HighEdgeArcmin = &low, &high
	}
	v.LowEdgeDeg, v.HighEdgeDeg, v.FoundHomeDeg = none, none, none
	v.GearingArcminPerTurn, v.GearingSDArcminPerTurn = none, none
	for i := range v.Curve {
		tilt := v.Curve[i].ScrewDeg + shift
		v.Curve[i].TiltArcmin, v.Curve[i].ScrewDeg = &tilt, none
	}
}
