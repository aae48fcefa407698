package sweep

import (
	"math"

	"gonum.org/v1/gonum/stat"

	"headtrue/sweep/record"
)

// inOnePeriod takes the usable steps as points. Those of a turn on a single tone are brought
// to one of its periods.
func (p Plan) inOnePeriod(steps []record.Step) []point {
	ps := p.points(steps)
	if p.turns() && len(p.FurtherTonesHz) == 0 {
		samePeriod(ps, p.periodArcmin())
	}
	return ps
}

// samePeriod brings the stretches of turns between two nulls of a tone to one
// period: through a null, in which a turn may even have gone back, none is counted
// for certain, but each stretch that crosses the top tells where that is. The
// delays of the others, and those in a null, are not used.
func samePeriod(ps []point, period float64) {
	const null, near = 15, 3 // dB below the top
	top := math.Inf(-1)
	for _, p := range ps {
		top = max(top, p.db)
	}
	first := math.NaN()
	for from := 0; from < len(ps); {
		to := from
		for to < len(ps) && ps[to].byX && ps[to].db > top-null {
			to++
		}
		at, crosses := topOf(ps[from:to], top-near)
		if math.IsNaN(first) {
			first = at
		}
		shift := math.Round((at-first)/period) * period
		for i := from; i < to; i++ {
			ps[i].x -= shift
			ps[i].byX = crosses
		}
		if to < len(ps) {
			ps[to].byX = false
		}
		from = to + 1
	}
}

// topOf is about where a stretch has its top, in arcmin of tilt by delay, and
// whether that reaches a level; NaN where it does not.
func topOf(stretch []point, least float64) (at float64, reaches bool) {
	const near = 3 // dB below its own
	best := math.Inf(-1)
	for _, p := range stretch {
		best = max(best, p.db)
	}
	if best < least {
		return math.NaN(), false
	}
	var x []float64
	for _, p := range stretch {
		if p.db > best-near {
			x = append(x, p.x)
		}
	}
	return stat.Mean(x, nil), true
}
