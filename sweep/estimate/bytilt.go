package estimate

import (
	"maps"
	"math"
	"slices"

	"headtrue/sweep/record"
	"headtrue/sweep/tape"
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
	tracked, ps := p.Points(all), p.InReach(all)
	foundAt := math.NaN() // in the period of the first points used
	if i := slices.IndexFunc(ps, func(q Point) bool { return q.ByX }); found != nil && i >= 0 {
		foundAt = tracked[0].X - (tracked[i].X - ps[i].X)
	}
	ps = slices.DeleteFunc(ps, func(q Point) bool { return !q.ByX })
	for i := range ps {
		ps[i].Deg = ps[i].X
	}
	v := Verdict{Mount: Mount{Line: Line{OK: true, PerDeg: 1, N: len(ps)}, Wander: priorWander()}}
	v.DullDB = p.DullDB
	v.byDelay(ps, p)
	v.midpoint(binned(ps, p.Material()), p)
	v.midpointDrifts(ps)
	v.combine(p)
	v.agree(p)
	v.NameUnlike()
	v.draw(ps)
	v.onTilt()
	v.noteFound(foundAt-v.ShiftArcmin, found, p)
	return v
}

// noteFound records the tilt as found from the optimum. at is the tracked tilt then: of a tone
// found beyond a null its whole periods may be wrong by one, which its level shows. If two
// periods fit, the tilt as found stays unknown.
func (v *Verdict) noteFound(at float64, found *record.Step, p Task) {
	if math.IsNaN(at) || !v.Optimum.OK {
		return
	}
	const clear = 4 // of twice the log-likelihood
	if v.Treble.M.IsTone && len(p.FurtherTonesHz) == 0 && v.Treble.OK {
		period, best, least, next := p.PeriodArcmin(), 0.0, math.Inf(1), math.Inf(1)
		for k := -2.0; k <= 2; k++ {
			const levelSD, slipSD = 1.5, 0.5 // dB, periods
			misfit := (found.Reading.TrebleDB - v.Treble.At(at+k*period)) / levelSD
			switch cost := misfit*misfit + k*k/(slipSD*slipSD); {
			case cost < least:
				best, least, next = k, cost, least
			case cost < next:
				next = cost
			}
		}
		if next < least+clear {
			return
		}
		at += best * period
	}
	off := at - v.TiltArcmin
	v.FoundOffArcmin, v.FoundOffSDArcmin = &off, math.Hypot(OwnSD(p.Tape, found.Reading), v.TiltSDArcmin)
}

// midpointDrifts adds to the midpoint's uncertainty that of the level's own drift: each time the
// head came over an edge the level was another. A hand comes over them a few times only.
func (v *Verdict) midpointDrifts(ps []Point) {
	if !v.Midpoint.OK || !v.Treble.OK {
		return
	}
	slope := 1.5 * v.DullDB / v.Treble.M.HalfWidthArcmin(v.DullDB) // of a lobe at its dull edge, dB per arcmin
	sd := UsualDrift(v.Treble.M).Rms / slope
	variance := sd * sd / 4 * (1/crossings(ps, v.Edges.Low) + 1/crossings(ps, v.Edges.High))
	v.Midpoint.SDArcmin = math.Hypot(v.Midpoint.SDArcmin, math.Sqrt(variance))
}

// binned returns points of a programme as means over binArcmin of tilt, in the order of their
// tilts: its treble changes from one moment to the next.
func binned(ps []Point, m tape.Material) []Point {
	const binArcmin = 4
	if m.IsTone {
		return ps
	}
	bins := map[float64]*Point{}
	count := map[float64]float64{}
	for _, p := range ps {
		at := math.Round(p.X/binArcmin) * binArcmin
		b := bins[at]
		if b == nil {
			b = &Point{ByX: true, Home: true}
			bins[at] = b
		}
		b.X, b.DB, b.DBSD = b.X+p.X, b.DB+p.DB, b.DBSD+p.DBSD*p.DBSD
		count[at]++
	}
	var out []Point
	for _, at := range slices.Sorted(maps.Keys(bins)) {
		b, n := bins[at], count[at]
		b.X, b.DB, b.DBSD = b.X/n, b.DB/n, math.Sqrt(b.DBSD)/n
		b.Deg = b.X
		out = append(out, *b)
	}
	return out
}

// crossings returns how often the head came over a tilt, at least 1. The wander of the tape
// does not count.
func crossings(ps []Point, tilt float64) float64 {
	const wander = 3 // arcmin
	n, side := 0.0, 0.0
	for _, p := range ps {
		if away := p.Deg - tilt; math.Abs(away) > wander && away*side <= 0 {
			side = away
			n++
		}
	}
	return max(1, n-1)
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
