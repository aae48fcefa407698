// Package fit solves small nonlinear least-squares problems and states how
// certain the solution is. It knows nothing of screws, tape or sound.
//
// The search is gonum's Newton method given the Gauss-Newton Hessian J'J, on
// parameters scaled by their own size, followed by a few plain Gauss-Newton
// steps that polish the last digits. The Jacobian is taken by central
// differences.
package fit

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/diff/fd"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize"
)

// Problem is a sum of squares to be made smallest. Residuals writes N
// residuals, each already divided by its standard deviation where that is
// known, for the parameters p.
type Problem struct {
	N         int
	Residuals func(dst, p []float64)
}

// Result is a solution. Covariance is that of the parameters for residuals of
// unit variance, inv(J'J); multiply by RSS/DOF where the variance is unknown.
type Result struct {
	Params     []float64
	Covariance *mat.SymDense
	RSS        float64
	DOF        int
}

// Scale is the residual standard deviation, sqrt(RSS/DOF); 1 without degrees
// of freedom.
func (r Result) Scale() float64 {
	if r.DOF <= 0 {
		return 1
	}
	return math.Sqrt(r.RSS / float64(r.DOF))
}

// SD is the standard deviation of parameter i for unit-variance residuals.
func (r Result) SD(i int) float64 { return math.Sqrt(r.Covariance.At(i, i)) }

// ErrSingular says that the data do not determine all parameters.
var ErrSingular = errors.New("the data do not determine the parameters")

// Solve starts at the parameters start and returns the nearest minimum.
func Solve(p Problem, start []float64) (Result, error) {
	if p.N < len(start) {
		return Result{}, fmt.Errorf("fit: %d residuals for %d parameters: %w", p.N, len(start), ErrSingular)
	}
	w := newWork(p, start)
	best := append([]float64(nil), start...)
	problem := optimize.Problem{
		Func: func(u []float64) float64 { return w.half(w.unscale(u)) },
		Grad: func(g, u []float64) { w.gradient(g, w.unscale(u)) },
		Hess: func(h *mat.SymDense, u []float64) { w.hessian(h, w.unscale(u)) },
	}
	settings := &optimize.Settings{
		GradientThreshold: 1e-14,
		MajorIterations:   2000,
		Converger:         &optimize.FunctionConverge{Absolute: 0, Relative: 1e-15, Iterations: 20},
	}
	found, err := optimize.Minimize(problem, w.scaled(start), settings, &optimize.Newton{})
	if found != nil && !math.IsNaN(found.F) {
		copy(best, w.unscale(found.X))
	} else if err != nil {
		return Result{}, fmt.Errorf("fit: %w", err)
	}
	w.polish(best)
	return w.result(best)
}

// work holds the problem and its scratch space. Parameters are scaled by the
// size of their starting values, so that one step size suits all.
type work struct {
	p     Problem
	scale []float64
	x     []float64
	r     []float64
	jac   *mat.Dense
}

func newWork(p Problem, start []float64) *work {
	w := &work{p: p, scale: make([]float64, len(start)), x: make([]float64, len(start)),
		r: make([]float64, p.N), jac: mat.NewDense(p.N, len(start), nil)}
	for i, v := range start {
		if w.scale[i] = math.Abs(v); w.scale[i] == 0 {
			w.scale[i] = 1
		}
	}
	return w
}

func (w *work) scaled(p []float64) []float64 {
	u := make([]float64, len(p))
	for i := range p {
		u[i] = p[i] / w.scale[i]
	}
	return u
}

func (w *work) unscale(u []float64) []float64 {
	for i := range u {
		w.x[i] = u[i] * w.scale[i]
	}
	return w.x
}

// half is half the sum of squares, the function that is made smallest.
func (w *work) half(p []float64) float64 {
	w.p.Residuals(w.r, p)
	var s float64
	for _, v := range w.r {
		s += v * v
	}
	return s / 2
}

// jacobian is with respect to the scaled parameters.
func (w *work) jacobian(p []float64) {
	u := w.scaled(p)
	q := make([]float64, len(p))
	fd.Jacobian(w.jac, func(y, u []float64) {
		for i := range u {
			q[i] = u[i] * w.scale[i]
		}
		w.p.Residuals(y, q)
	}, u, &fd.JacobianSettings{Formula: fd.Central})
}

func (w *work) gradient(g, p []float64) {
	at := append([]float64(nil), p...)
	w.jacobian(at)
	w.p.Residuals(w.r, at)
	mat.NewVecDense(len(g), g).MulVec(w.jac.T(), mat.NewVecDense(len(w.r), w.r))
}

func (w *work) hessian(h *mat.SymDense, p []float64) {
	w.jacobian(append([]float64(nil), p...))
	h.SymOuterK(1, w.jac.T())
}

// polish takes Gauss-Newton steps while they make the sum smaller.
func (w *work) polish(p []float64) {
	f := w.half(p)
	for range 50 {
		w.jacobian(p)
		w.half(p)
		var qr mat.QR
		qr.Factorize(w.jac)
		var step mat.VecDense
		if err := qr.SolveVecTo(&step, false, mat.NewVecDense(len(w.r), w.r)); err != nil {
			return
		}
		next := make([]float64, len(p))
		for i := range p {
			next[i] = p[i] - step.AtVec(i)*w.scale[i]
		}
		g := w.half(next)
		if !(g < f) {
			return
		}
		f = g
		copy(p, next)
	}
}

func (w *work) result(p []float64) (Result, error) {
	n := len(p)
	w.jacobian(p)
	var qr mat.QR
	qr.Factorize(w.jac)
	if c := qr.Cond(); math.IsInf(c, 0) || math.IsNaN(c) || c > 1e14 {
		return Result{}, fmt.Errorf("fit: condition number %.3g: %w", c, ErrSingular)
	}
	var r mat.Dense
	qr.RTo(&r)
	var inv mat.Dense
	if err := inv.Inverse(r.Slice(0, n, 0, n)); err != nil {
		if _, bad := err.(mat.Condition); !bad {
			return Result{}, fmt.Errorf("fit: %w", ErrSingular)
		}
	}
	cov := mat.NewSymDense(n, nil)
	cov.SymOuterK(1, &inv)
	for i := range n {
		for j := i; j < n; j++ {
			cov.SetSym(i, j, cov.At(i, j)*w.scale[i]*w.scale[j])
		}
	}
	return Result{Params: append([]float64(nil), p...), Covariance: cov, RSS: 2 * w.half(p), DOF: w.p.N - n}, nil
}
