package estimate

import (
	"math"
	"slices"
	"sync"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// multibandParameters are the centre, the floors, and the logarithm of the tilts' scale.
const (
	multibandParameters = parTiltScale + 1
	parTiltScale        = 1 + bands
)

// knownScaleSD is the standard deviation of a scale that is known.
const knownScaleSD = 1e-3

// usualParameters returns the prior means, with the given centre.
func usualParameters(centre float64) []float64 {
	p := []float64{centre}
	for range bands {
		p = append(p, usualFloorDB)
	}
	return append(p, 0)
}

// scale returns the scale of the tilts for the parameters.
func (t *multiband) scale(p []float64) float64 { return math.Exp(p[parTiltScale]) }

// multibandState is the fit of the readings at one set of parameters.
type multibandState struct {
	p      []float64
	cost   float64      // minus twice the log-likelihood, up to a constant
	strays mat.Dense    // times the root of the reading's weight
	sum    mat.Cholesky // E'E + m C0
}

// at evaluates the parameters on the readings; not ok if the cost is undefined.
func (t *multiband) at(p []float64) (s multibandState, ok bool) {
	s.p = p
	s.strays.CloneFrom(t.levels)
	s.strays.Apply(func(i, k int, level float64) float64 {
		return level - bandLoss(t.tape, k, t.scale(p)*(t.tilts[i]-p[0]), p[1+k])
	}, &s.strays)
	t.lessTop(&s.strays)
	var sum mat.SymDense
	sum.SymOuterK(1, s.strays.T())
	sum.AddSym(&sum, usualStrays())
	if !s.sum.Factorize(&sum) {
		return s, false
	}
	s.cost = t.freedom * s.sum.LogDet()
	for _, r := range t.held(p) {
		s.cost += r * r
	}
	return s, !math.IsNaN(s.cost)
}

// held returns the residuals of the priors.
func (t *multiband) held(p []float64) []float64 {
	r := []float64{(p[0] - t.start) / t.startSD}
	for _, floor := range p[1 : 1+bands] {
		r = append(r, (floor-usualFloorDB)/floorSDDB)
	}
	return append(r, p[parTiltScale]/max(t.scaleSD, knownScaleSD))
}

// lessTop subtracts each column's weighted mean, which is its top, and weights the rows.
func (t *multiband) lessTop(m *mat.Dense) {
	all := floats.Sum(t.weight)
	for k := range bands {
		top := floats.Dot(t.weight, mat.Col(nil, k, m)) / all
		for i, w := range t.weight {
			m.Set(i, k, math.Sqrt(w)*(m.At(i, k)-top))
		}
	}
}

// usualStrays returns m C0.
var usualStrays = sync.OnceValue(func() *mat.SymDense {
	c := mat.NewSymDense(bands, nil)
	for k := range bands {
		for l := k; l < bands; l++ {
			c.SetSym(k, l, strayReadings*strayDB*strayDB*math.Pow(neighbourly, float64(l-k)))
		}
	}
	return c
})

// linear returns the least-squares problem linearised at a state, with the bands'
// covariance held there: residuals of unit variance and their derivatives by the
// parameters. The gradient of its sum of squares equals that of the cost.
func (t *multiband) linear(s multibandState) (slopes *mat.Dense, residuals []float64) {
	n := len(t.tilts)
	rows := n*bands + multibandParameters
	slopes = mat.NewDense(rows, multibandParameters, nil)
	residuals = append(t.whitened(&s, &s.strays), t.held(s.p)...)
	byCentre, byScale := mat.NewDense(n, bands, nil), mat.NewDense(n, bands, nil)
	scale := t.scale(s.p)
	for k := range bands {
		byFloor := mat.NewDense(n, bands, nil)
		for i, at := range t.tilts {
			tilt := scale * (at - s.p[0])
			perArcmin, perFloor := bandSlopes(t.tape, k, tilt, s.p[1+k])
			byCentre.Set(i, k, scale*perArcmin)
			byScale.Set(i, k, -tilt*perArcmin)
			byFloor.Set(i, k, -perFloor)
		}
		t.lessTop(byFloor)
		slopes.SetCol(1+k, append(t.whitened(&s, byFloor), make([]float64, multibandParameters)...))
		slopes.Set(n*bands+1+k, 1+k, 1/floorSDDB)
	}
	t.lessTop(byCentre)
	slopes.SetCol(0, append(t.whitened(&s, byCentre), make([]float64, multibandParameters)...))
	slopes.Set(n*bands, 0, 1/t.startSD)
	t.lessTop(byScale)
	slopes.SetCol(parTiltScale, append(t.whitened(&s, byScale), make([]float64, multibandParameters)...))
	slopes.Set(n*bands+parTiltScale, parTiltScale, 1/max(t.scaleSD, knownScaleSD))
	return slopes, residuals
}

// whitened returns a matrix of readings and bands in units of the bands' standard
// deviation, decorrelated.
func (t *multiband) whitened(s *multibandState, m mat.Matrix) []float64 {
	var lower mat.TriDense
	var white mat.Dense
	s.sum.LTo(&lower)
	_ = white.Solve(&lower, m.T()) // a Cholesky factor is never singular
	white.Scale(math.Sqrt(t.freedom), &white)
	return white.RawMatrix().Data
}

// minimise descends from p to the least cost; the first fixed parameters stay.
func (t *multiband) minimise(p []float64, fixed int) (s multibandState, ok bool) {
	if s, ok = t.at(p); !ok {
		return s, false
	}
	for range 30 {
		slopes, residuals := t.linear(s)
		rows, _ := slopes.Dims()
		free := slopes.Slice(0, rows, fixed, multibandParameters)
		var step mat.VecDense
		if step.SolveVec(free, mat.NewVecDense(rows, residuals)) != nil {
			return s, false
		}
		next, better := t.shorten(s, &step, fixed)
		if !better {
			break
		}
		s = next
	}
	return s, true
}

// shorten takes a step, or the largest halving of it that lowers the cost; not better if
// none lowers it by more than hair.
func (t *multiband) shorten(s multibandState, step *mat.VecDense, fixed int) (next multibandState, better bool) {
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

// slopesSD returns the standard deviation of the centre from the slopes at a state; +Inf
// if they do not determine it.
func (t *multiband) slopesSD(s multibandState) float64 {
	slopes, _ := t.linear(s)
	var inner mat.SymDense
	var chol mat.Cholesky
	var inverse mat.SymDense
	inner.SymOuterK(1, slopes.T())
	if !chol.Factorize(&inner) || chol.InverseTo(&inverse) != nil {
		return math.Inf(1)
	}
	return math.Sqrt(inverse.At(0, 0))
}
