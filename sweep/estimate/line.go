package estimate

import (
	"math"

	"gonum.org/v1/gonum/stat"

	"headtrue/sweep/fit"
)

// Line is the delay line: tilt by delay against degrees of screw, x = At0 + PerDeg * deg.
type Line struct {
	OK          bool
	At0, PerDeg float64
	// covariance of At0 and PerDeg
	v00, v01, v11 float64
	N             int
	// Scatter is the robust standard deviation (scatter) of the points about the line,
	// arcmin.
	Scatter float64
}

// Limits of a real mount's gearing, arcmin per turn, with margin: M2 (0.4 mm) on a lever
// of 23 mm makes 60', M4 (0.7 mm) on 8 mm 300'; common practice, no source.
const (
	leastGearing = 2.0 / 3 * LowestGearing
	mostGearing  = 400.0
)

// Credible reports whether a line through places spreadDeg apart is that of a head that
// follows the screw, not one through meaningless delays: a mount can have this gearing,
// the gearing is large against its own uncertainty, and the tilt along the line is large
// against the scatter of the points.
func (l Line) Credible(spreadDeg float64) bool {
	g := math.Abs(l.PerDeg)
	return l.OK && g > leastGearing/360 && g < mostGearing/360 &&
		g > 4*math.Sqrt(l.v11) && g*spreadDeg > 6*l.Scatter
}

// Deg returns the screw position at which the line has the tilt x.
func (l Line) Deg(x float64) float64 { return (x - l.At0) / l.PerDeg }

// SD returns the standard deviation of the line's tilt at a screw position, arcmin.
func (l Line) SD(deg float64) float64 {
	return math.Sqrt(max(0, l.v00+2*deg*l.v01+deg*deg*l.v11))
}

// Anchored returns the line shifted by off, so that it passes through the tilt measured
// at deg, which has the standard deviation sd.
func (l Line) Anchored(deg, off, sd float64) Line {
	l.At0 += off
	l.v00, l.v01 = sd*sd+deg*deg*l.v11, -deg*l.v11
	return l
}

// wanderFloor is added to each delay's own uncertainty: the effect of the tape's skew in
// a short dwell, arcmin (rms 1' averaged over half a second).
const wanderFloor = 0.4

// FitLine fits a weighted least-squares line, three times reweighted after Huber so that
// a drop-out does not bias it. Points that did not arrive from the home side are left
// out.
func FitLine(ps []Point) Line {
	var use []Point
	for _, p := range ps {
		if p.Home && p.ByX {
			use = append(use, p)
		}
	}
	return FitLineThrough(use)
}

// FitLineThrough is FitLine through all given points.
func FitLineThrough(use []Point) Line {
	if len(use) < 4 || Spread(use) < 5 {
		return Line{}
	}
	w := make([]float64, len(use))
	for i, p := range use {
		w[i] = 1 / (p.XSD*p.XSD + wanderFloor*wanderFloor)
	}
	var l Line
	for range 4 {
		l = weightedLine(use, w)
		if !l.OK {
			return l
		}
		for i, p := range use {
			sd := math.Hypot(p.XSD, max(wanderFloor, l.Scatter))
			r := math.Abs(p.X-l.At0-l.PerDeg*p.Deg) / sd
			w[i] = 1 / (sd * sd)
			if r > 1.5 {
				w[i] *= 1.5 / r
			}
		}
	}
	return l
}

func weightedLine(ps []Point, w []float64) Line {
	var sums fit.Sums
	for i, p := range ps {
		sums.Add(1, p.Deg, p.X, w[i])
	}
	solved, ok := sums.Solve()
	if !ok {
		return Line{}
	}
	l := lineOf(solved, len(ps))
	res := make([]float64, len(ps))
	for i, p := range ps {
		res[i] = p.X - l.At0 - l.PerDeg*p.Deg
	}
	l.Scatter = scatter(res)
	return l
}

// lineOf converts the solution for n points.
func lineOf(s fit.Straight, n int) Line {
	return Line{OK: s.B != 0, N: n, At0: s.A, PerDeg: s.B, v00: s.VAA, v01: s.VAB, v11: s.VBB}
}

// MedianLine fits a line by the medians of the pairwise slopes and of the offsets.
func MedianLine(ps []Point) Line {
	var slopes []float64
	for i, p := range ps {
		for _, q := range ps[:i] {
			if p.Deg != q.Deg {
				slopes = append(slopes, (p.X-q.X)/(p.Deg-q.Deg))
			}
		}
	}
	if len(slopes) == 0 {
		return Line{}
	}
	l := Line{OK: true, N: len(ps), PerDeg: Median(slopes)}
	degs, rest := make([]float64, len(ps)), make([]float64, len(ps))
	for i, p := range ps {
		degs[i], rest[i] = p.Deg, p.X-l.PerDeg*p.Deg
	}
	l.At0 = Median(rest)
	for i := range rest {
		rest[i] -= l.At0
	}
	l.Scatter = scatter(rest)
	l.v11 = math.Pow(l.Scatter/stat.StdDev(degs, nil), 2) / float64(len(ps))
	return l
}

// LowestGearing is the least tilt in arcmin that one turn of a real mount makes, used
// only to decide whether anything moves at all: M2 (0.4 mm) on a lever of 23 mm, common
// practice, no source.
const LowestGearing = 60
