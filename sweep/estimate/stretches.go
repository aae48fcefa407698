package estimate

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"headtrue/sweep/record"
	"headtrue/sweep/tape"
)

// LobeDB is how far below its top a tone is heard in its main lobe only: the next lobe is 13 dB
// down.
const LobeDB = 11

// A person turns to and fro, stops on the way, and turns back beyond a null, through which the
// whole periods of a tone cannot be counted. byStretches cuts the points into stretches within
// the main lobe and shifts all to one period: first those that come over the top, then the
// others by the shape of their levels. Points of a stretch that fits no period, or more than
// one, are not used.
func byStretches(ps []Point, m tape.Material, period float64) {
	top := math.Inf(-1)
	for _, p := range ps {
		if p.ByX {
			top = max(top, p.DB)
		}
	}
	var over, partly [][]Point
	for from := 0; from < len(ps); {
		to := from
		for to < len(ps) && ps[to].ByX && ps[to].DB > top-LobeDB {
			to++
		}
		switch stretch := ps[from:to]; {
		case overTop(stretch, top):
			over = append(over, stretch)
		case len(stretch) > 0:
			partly = append(partly, stretch)
		}
		if to < len(ps) {
			ps[to].ByX = false
		}
		from = to + 1
	}
	if len(over) == 0 {
		drop(partly)
		return
	}
	first := topTilt(over[0])
	var tops []float64
	for _, stretch := range over {
		shift := math.Round((topTilt(stretch)-first)/period) * period
		for i := range stretch {
			stretch[i].X -= shift
		}
		tops = append(tops, topTilt(stretch))
	}
	centre := stat.Mean(tops, nil)
	shape := m.Shape(tape.Lobe{})
	level := func(x float64) float64 { return top + tape.Decibels(shape.Power(x-centre)) }
	for _, stretch := range partly {
		var x, db []float64
		for _, p := range stretch {
			x, db = append(x, p.X), append(db, p.DB)
		}
		shift, ok := Periods(x, db, level, centre, m.NullArcmin(), period)
		for i := range stretch {
			stretch[i].X -= shift
			stretch[i].ByX = ok
		}
	}
}

func drop(stretches [][]Point) {
	for _, s := range stretches {
		for i := range s {
			s[i].ByX = false
		}
	}
}

// overTop reports whether a stretch comes over the top of a tone: it is within nearTop of the
// highest level, and has fallen on both sides of it.
func overTop(stretch []Point, top float64) bool {
	const nearTop, fallen = 2, 4 // dB
	best := math.Inf(-1)
	for _, p := range stretch {
		best = max(best, p.DB)
	}
	if best < top-nearTop {
		return false
	}
	at := topTilt(stretch)
	var below, above bool
	for _, p := range stretch {
		if p.DB < best-fallen {
			below, above = below || p.X < at, above || p.X > at
		}
	}
	return below && above
}

// topTilt returns roughly where a stretch has its top: the middle of the tilts at which it is
// near its highest level, arcmin.
func topTilt(stretch []Point) float64 {
	const near = 3 // dB
	best := math.Inf(-1)
	for _, p := range stretch {
		best = max(best, p.DB)
	}
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, p := range stretch {
		if p.DB > best-near {
			lo, hi = min(lo, p.X), max(hi, p.X)
		}
	}
	return (lo + hi) / 2
}

// Limits of Periods.
const (
	mostMisfit  = 2.5 // mean square of the levels about their curve, dB^2
	clearMisfit = 2   // by which any other period must fit worse
	outlierDB2  = 25
	leastCells  = 5
)

// Periods finds the whole periods of tilts by the delay of a tone: those with which the levels
// lie on a curve, whose main lobe reaches so far from its centre. shift is to be subtracted from
// the tilts, arcmin; ok is false if no period fits, or more than one.
func Periods(tilt, db []float64, curve func(float64) float64, centre, reach, period float64) (shift float64, ok bool) {
	if len(tilt) < leastCells {
		return 0, false
	}
	best, least, next := 0.0, math.Inf(1), math.Inf(1)
	for k := math.Ceil((tilt[0] - centre - reach) / period); k*period <= tilt[0]-centre+reach; k++ {
		sum := 0.0
		for i := range tilt {
			d := db[i] - curve(tilt[i]-k*period)
			sum += min(d*d, outlierDB2)
		}
		switch misfit := sum / float64(len(tilt)); {
		case misfit < least:
			best, least, next = k, misfit, least
		case misfit < next:
			next = misfit
		}
	}
	return best * period, least <= mostMisfit && next >= least+clearMisfit
}

// NullFloor is the power that a tone keeps in its nulls, of that at its top: noise and crosstalk.
const NullFloor = 0.002

// PeriodsByShape is Periods if the level of the top is unknown, too: fall is the curve less its
// top. It searches as far as a head can be off. top is the level at the top of the curve.
func PeriodsByShape(tilt, db []float64, fall func(float64) float64, centre, period float64) (shift, top float64, ok bool) {
	const (
		farthest = 100 // arcmin
		least    = 8   // arcmin of turn: over less of it, lobes are alike
	)
	if len(tilt) < leastCells || slices.Max(tilt)-slices.Min(tilt) < least {
		return 0, 0, false
	}
	best, next := math.Inf(1), math.Inf(1)
	rest := make([]float64, len(tilt))
	for k := math.Ceil((tilt[0] - centre - farthest) / period); k*period <= tilt[0]-centre+farthest; k++ {
		for i := range tilt {
			rest[i] = db[i] - fall(tilt[i]-k*period)
		}
		middle, spread := stat.PopMeanVariance(rest, nil)
		switch {
		case spread < best:
			shift, top, best, next = k*period, middle, spread, best
		case spread < next:
			next = spread
		}
	}
	return shift, top, best <= mostMisfit && next >= best+clearMisfit
}

// InReach returns the steps of a run by hand as points, the delays of a tone in one period.
func (p Plan) InReach(steps []record.Step) []Point {
	ps := p.Points(steps)
	if p.ToneHz > 0 && len(p.FurtherTonesHz) == 0 {
		byStretches(ps, p.Material(), p.PeriodArcmin())
	}
	return ps
}
