package sweep

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// A programme's treble changes by itself by several decibels, and much of that is
// alike over neighbouring bands, while tilt takes the more the higher the band. So
// all bands are fitted together: each has a top and a floor of hiss of its own, one
// centre is common to them, and how much the bands stray by themselves, and how much
// alike, is learned from the same readings. Of the strays E, one row for each reading
// and one column for each band, the covariance C is unknown; the parameters that are
// likeliest whatever it is make
//
//	(n - 1 + m) log det(E'E + m C0)
//
// least (the determinant criterion: Box & Draper, Biometrika 52, 1965), where m
// readings' worth of the usual C0 stand for what is known beforehand (an
// inverse-Wishart prior). What the music does to all bands is taken out so far as it
// is alike. References from memory.
type together struct {
	tilts  []float64 // of the readings, arcmin
	levels *mat.Dense
	// weight of a reading: its seconds over those of a stay.
	weight         []float64
	start, startSD float64 // of the centre, arcmin
	freedom        float64
}

// togetherFit is what all bands say together.
type togetherFit struct {
	centre, centreSD float64 // arcmin
	slopesSD         float64 // the centre's by the slopes alone, arcmin
	floorDB          [bands]float64
	strays           *mat.Cholesky // of the bands' covariance in a stay, dB^2
}

const (
	// Before anything was heard: how much a band strays by itself in a stay, dB, how
	// alike neighbours are, and for how many readings that counts, as runs on five
	// pieces of sweep/bench/grid have it.
	strayDB, neighbourly, strayReadings = 3.0, 0.8, 6.0
	// usualFloorDB is held to a standard deviation of floorSDDB; common practice, no
	// source.
	usualFloorDB, floorSDDB = -18.0, 8.0
	// leastTogether readings, at most togetherReach off the centre, arcmin: farther
	// out the lobes of the higher bands begin.
	leastTogether = 6
	togetherReach = 34
)

// refined is a curve whose centre is found anew by all bands together, where they
// tell it better; z must be the tilt. Top, floor and shape remain those of the whole
// treble.
func (c curve) refined(in curveInput) curve {
	if !c.ok {
		return c
	}
	in.points = slices.DeleteFunc(slices.Clone(in.points), func(p curvePoint) bool { return !sounds(p.bands) })
	centre := in.start
	var found *togetherFit
	for range 2 { // the second counts those about a better centre
		near := in.near(centre, togetherReach)
		if len(near.points) < leastTogether {
			return c
		}
		if found = newTogether(near).fit(centre); found == nil {
			return c
		}
		centre = found.centre
	}
	if found.centreSD > c.centreSD {
		return c
	}
	c.centre, c.centreSD, c.together = found.centre, found.centreSD, found
	return c
}

func newTogether(in curveInput) *together {
	n := len(in.points)
	t := &together{levels: mat.NewDense(n, bands, nil), start: in.start, startSD: in.startSD, freedom: float64(n) - 1 + strayReadings}
	for i, p := range in.points {
		t.tilts, t.weight = append(t.tilts, p.z), append(t.weight, p.seconds/chopSeconds)
		for k := range bands {
			t.levels.Set(i, k, decibels(powerOf(p.bands[0][k])+powerOf(p.bands[1][k])))
		}
	}
	return t
}

// togetherParameters are the centre, then the floors.
const togetherParameters = 1 + bands

// togetherState is what parameters make of the readings.
type togetherState struct {
	p      []float64
	cost   float64      // minus twice the logarithm of the likelihood, but for a constant
	strays mat.Dense    // by the root of a reading's weight
	sum    mat.Cholesky // E'E + m C0
}

// at holds parameters against the readings; not ok where they make no sense.
func (t *together) at(p []float64) (s togetherState, ok bool) {
	s.p = p
	s.strays.CloneFrom(t.levels)
	s.strays.Apply(func(i, k int, level float64) float64 { return level - bandLoss(k, t.tilts[i]-p[0], p[1+k]) }, &s.strays)
	t.lessTop(&s.strays)
	var sum mat.SymDense
	sum.SymOuterK(1, s.strays.T())
	sum.AddSym(&sum, usualStrays)
	if !s.sum.Factorize(&sum) {
		return s, false
	}
	s.cost = t.freedom * s.sum.LogDet()
	for _, r := range t.held(p) {
		s.cost += r * r
	}
	return s, !math.IsNaN(s.cost)
}

// held are the residuals of what the parameters are held to beforehand.
func (t *together) held(p []float64) []float64 {
	r := []float64{(p[0] - t.start) / t.startSD}
	for _, floor := range p[1:] {
		r = append(r, (floor-usualFloorDB)/floorSDDB)
	}
	return r
}

// lessTop takes out of each column its mean, which is its top, and weighs the rows.
func (t *together) lessTop(m *mat.Dense) {
	all := floats.Sum(t.weight)
	for k := range bands {
		top := floats.Dot(t.weight, mat.Col(nil, k, m)) / all
		for i, w := range t.weight {
			m.Set(i, k, math.Sqrt(w)*(m.At(i, k)-top))
		}
	}
}

// usualStrays is m C0.
var usualStrays = func() *mat.SymDense {
	c := mat.NewSymDense(bands, nil)
	for k := range bands {
		for l := k; l < bands; l++ {
			c.SetSym(k, l, strayReadings*strayDB*strayDB*math.Pow(neighbourly, float64(l-k)))
		}
	}
	return c
}()

// linear is the least-squares problem next to a state, with the bands' covariance as
// it is there: residuals of unit variance, and how they go with the parameters. The
// gradient of its sum of squares is that of the cost.
func (t *together) linear(s togetherState) (slopes *mat.Dense, residuals []float64) {
	n := len(t.tilts)
	rows := n*bands + togetherParameters
	slopes = mat.NewDense(rows, togetherParameters, nil)
	residuals = append(t.whitened(&s, &s.strays), t.held(s.p)...)
	byCentre := mat.NewDense(n, bands, nil)
	for k := range bands {
		byFloor := mat.NewDense(n, bands, nil)
		for i, tilt := range t.tilts {
			perArcmin, perFloor := bandSlopes(k, tilt-s.p[0], s.p[1+k])
			byCentre.Set(i, k, perArcmin)
			byFloor.Set(i, k, -perFloor)
		}
		t.lessTop(byFloor)
		slopes.SetCol(1+k, append(t.whitened(&s, byFloor), make([]float64, togetherParameters)...))
		slopes.Set(n*bands+1+k, 1+k, 1/floorSDDB)
	}
	t.lessTop(byCentre)
	slopes.SetCol(0, append(t.whitened(&s, byCentre), make([]float64, togetherParameters)...))
	slopes.Set(n*bands, 0, 1/t.startSD)
	return slopes, residuals
}

// whitened are the values of a matrix of readings and bands, in units of what the
// bands stray.
func (t *together) whitened(s *togetherState, m mat.Matrix) []float64 {
	var lower mat.TriDense
	var white mat.Dense
	s.sum.LTo(&lower)
	_ = white.Solve(&lower, m.T()) // a factor of Cholesky's is never singular
	white.Scale(math.Sqrt(t.freedom), &white)
	return white.RawMatrix().Data
}

// least goes down from p to the least cost; the first so many parameters stay.
// sd is the centre's by the slopes there.
func (t *together) least(p []float64, fixed int) (s togetherState, sd float64, ok bool) {
	s, ok = t.at(p)
	for range 30 {
		if !ok {
			return s, 0, false
		}
		slopes, residuals := t.linear(s)
		rows, _ := slopes.Dims()
		free := slopes.Slice(0, rows, fixed, togetherParameters)
		var step mat.VecDense
		if step.SolveVec(free, mat.NewVecDense(rows, residuals)) != nil {
			return s, 0, false
		}
		if fixed == 0 {
			sd = centreSD(slopes)
		}
		next, better := t.downhill(s, &step, fixed)
		if !better {
			return s, sd, true
		}
		s = next
	}
	return s, sd, true
}

// downhill takes a step, or the part of it that makes the cost less; not better
// where none does by more than a hair.
func (t *together) downhill(s togetherState, step *mat.VecDense, fixed int) (next togetherState, better bool) {
	const hair = 1e-5
	for part := 1.0; part > 0.05; part /= 2 {
		p := slices.Clone(s.p)
		for i := range step.Len() {
			p[fixed+i] -= part * step.AtVec(i)
		}
		if next, ok := t.at(p); ok && next.cost < s.cost-hair {
			return next, true
		}
	}
	return s, false
}

// centreSD is the standard deviation of the first parameter.
func centreSD(slopes *mat.Dense) float64 {
	var inner mat.SymDense
	var chol mat.Cholesky
	var inverse mat.SymDense
	inner.SymOuterK(1, slopes.T())
	if !chol.Factorize(&inner) || chol.InverseTo(&inverse) != nil {
		return math.Inf(1)
	}
	return math.Sqrt(inverse.At(0, 0))
}

// awaySDs is how far from the centre the cost is looked at, in standard deviations by
// the slopes.
const awaySDs = 1.5

// fit finds the centre from near where it is; nil where it cannot. Its standard
// deviation is that of a parabola through the least cost at the centre and to both
// sides of it, the floors and the covariance being found anew at each (the profile
// likelihood): what is learned from few readings makes it wider than the slopes do.
func (t *together) fit(near float64) *togetherFit {
	p := make([]float64, togetherParameters)
	p[0] = near
	for k := range bands {
		p[1+k] = usualFloorDB
	}
	best, sd, ok := t.least(p, 0)
	if !ok || math.IsInf(sd, 1) {
		return nil
	}
	var rise float64
	for _, side := range []float64{-awaySDs, awaySDs} {
		p := slices.Clone(best.p)
		p[0] += side * sd
		off, _, ok := t.least(p, 1)
		if !ok {
			return nil
		}
		rise += (off.cost - best.cost) / 2
	}
	if rise <= 0 {
		return nil
	}
	f := &togetherFit{centre: best.p[0], centreSD: awaySDs * sd / math.Sqrt(rise), slopesSD: sd, strays: &best.sum}
	copy(f.floorDB[:], best.p[1:])
	f.strays.Scale(1/t.freedom, f.strays)
	return f
}

// tells is how much a stay at a tilt tells of the centre: one over the variance,
// arcmin^-2.
func (f *togetherFit) tells(tilt float64) float64 {
	slopes := mat.NewVecDense(bands, nil)
	for k := range bands {
		perArcmin, _ := bandSlopes(k, tilt, f.floorDB[k])
		slopes.SetVec(k, perArcmin)
	}
	var weighted mat.VecDense
	if f.strays.SolveVecTo(&weighted, slopes) != nil {
		return 0
	}
	return mat.Dot(slopes, &weighted)
}
