package bound

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// levelDB is the curve at a tilt, with its top at 0 dB without the floor.
func (e Experiment) levelDB(offArcmin, floorDB float64) float64 {
	return 10 * math.Log10(e.Power(offArcmin)+math.Pow(10, floorDB/10))
}

// slope is that of the curve, in dB/arcmin, by a central difference.
func (e Experiment) slope(offArcmin float64) float64 {
	const h = 1e-3 // arcmin: curves bend over arcminutes
	return (e.levelDB(offArcmin+h, e.FloorDB) - e.levelDB(offArcmin-h, e.FloorDB)) / (2 * h)
}

// jacobian has the rows of the levels first, then those of the delays. Its columns are
// the unknowns in use.
func (e Experiment) jacobian(level, delay bool, use []int) *mat.Dense {
	out := mat.NewDense(e.rows(level, delay), len(use), nil)
	for i, s := range e.Stays {
		slope, under := e.slope(s.OffArcmin), math.Pow(10, e.FloorDB/10)
		ofLevel := [unknowns]float64{centre: -slope, scale: slope * s.OffArcmin, top: 1, floor: under / (e.Power(s.OffArcmin) + under)}
		ofDelay := [unknowns]float64{centre: -1, scale: s.OffArcmin, channelDelay: 1}
		for j, k := range use {
			if level {
				out.Set(i, j, ofLevel[k])
			}
			if delay {
				out.Set(e.rows(level, false)+i, j, ofDelay[k])
			}
		}
	}
	return out
}

func (e Experiment) rows(level, delay bool) int {
	n := 0
	if level {
		n += len(e.Stays)
	}
	if delay {
		n += len(e.Stays)
	}
	return n
}

// covariance returns that of the data, in the order of the Jacobian's rows.
func (e Experiment) covariance(level, delay bool) *mat.SymDense {
	out := mat.NewSymDense(e.rows(level, delay), nil)
	first := e.rows(level, false)
	for i, s := range e.Stays {
		wander := s.WanderSDArcmin * s.WanderSDArcmin
		slope := e.slope(s.OffArcmin)
		if level {
			out.SetSym(i, i, s.LevelSDDB*s.LevelSDDB+slope*slope*wander+e.shared(i, i))
			for j := i + 1; j < len(e.Stays); j++ {
				out.SetSym(i, j, e.shared(i, j))
			}
		}
		if delay {
			out.SetSym(first+i, first+i, s.DelaySDArcmin*s.DelaySDArcmin+wander)
		}
		if level && delay {
			out.SetSym(i, first+i, slope*wander)
		}
	}
	return out
}

// shared returns the covariance of the fluctuations' means over two stays.
func (e Experiment) shared(i, j int) float64 {
	var sum float64
	for _, f := range e.Fluctuations {
		sum += f.covariance(e.Stays[i], e.Stays[j], i == j)
	}
	return sum
}

// covariance returns that of the means over two stays, or over one: the integral of RMS^2
// exp(-|t-u|/tau) over both, divided by their lengths. A stay of zero length is a sample.
func (f Fluctuation) covariance(a, b Stay, same bool) float64 {
	power := f.RMSDB * f.RMSDB
	if same {
		x := a.Seconds / f.Seconds
		if x < 1e-4 {
			return power
		}
		return power * 2 / x * (1 + math.Expm1(-x)/x)
	}
	// exp averaged over a stay is sinh(x)/x of its half length
	spread := func(s Stay) float64 {
		x := s.Seconds / 2 / f.Seconds
		if x < 1e-4 {
			return 1
		}
		return math.Sinh(x) / x
	}
	return power * math.Exp(-math.Abs(a.AtS-b.AtS)/f.Seconds) * spread(a) * spread(b)
}
