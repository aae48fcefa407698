// Package fit solves small nonlinear least-squares problems and returns the uncertainty
// of the solution. It does not depend on screw, tape or sound.
//
// The search is the damped Gauss-Newton method (Levenberg 1944, Marquardt 1963). Each
// step solves the linearised problem with a penalty on the step's length, measured in
// units of each parameter's own effect on the residuals (Moré 1978). The damping depends
// on how well the linear model predicted the gain (Nielsen 1999). The Jacobian is
// computed by central differences. References from memory.
package fit

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// Problem is a sum of squares to be minimised. Residuals writes N residuals for the
// parameters p, each divided by its standard deviation if that is known.
type Problem struct {
	N         int
	Residuals func(dst, p []float64)
}

// Result is a solution. Covariance is that of the parameters for residuals of unit
// variance, inv(J'J); multiply it by RSS/DOF if the variance is unknown.
type Result struct {
	Params     []float64
	Covariance *mat.SymDense
	RSS        float64
	DOF        int
}

// Scale returns the standard deviation of the residuals, sqrt(RSS/DOF); 1 without degrees
// of freedom.
func (r Result) Scale() float64 {
	if r.DOF <= 0 {
		return 1
	}
	return math.Sqrt(r.RSS / float64(r.DOF))
}

// SD returns the standard deviation of parameter i for unit-variance residuals.
func (r Result) SD(i int) float64 { return math.Sqrt(r.Covariance.At(i, i)) }

// ErrSingular reports that the data do not determine all parameters.
var ErrSingular = errors.New("the data do not determine the parameters")

// ErrNoMinimum reports that the search ran out of steps, or could not begin.
var ErrNoMinimum = errors.New("no minimum was reached from the start")

// Solve starts at the parameters start and returns the nearest minimum.
func Solve(p Problem, start []float64) (Result, error) {
	if p.N < len(start) {
		return Result{}, fmt.Errorf("fit: %d residuals for %d parameters: %w", p.N, len(start), ErrSingular)
	}
	s := newSearch(p, start)
	if !finite(s.rss) {
		return Result{}, fmt.Errorf("fit: the sum of squares at the start is %g: %w", s.rss, ErrNoMinimum)
	}
	if err := s.descend(); err != nil {
		return Result{}, err
	}
	return s.result()
}

func (s *search) result() (Result, error) {
	n := len(s.p)
	s.jacobian()
	// columns of unit length, so that the condition number depends on the data, not on
	// the units of the parameters
	size := s.columnNorms()
	unit := mat.DenseCopyOf(s.jac)
	unit.Apply(func(_, j int, v float64) float64 { return v / size[j] }, unit)
	var qr mat.QR
	qr.Factorize(unit)
	if c := qr.Cond(); !(c <= maxCondition) {
		return Result{}, fmt.Errorf("fit: condition number %.3g: %w", c, ErrSingular)
	}
	var r, inv mat.Dense
	qr.RTo(&r)
	if err := inv.Inverse(r.Slice(0, n, 0, n)); err != nil {
		if _, bad := err.(mat.Condition); !bad {
			return Result{}, fmt.Errorf("fit: %w", ErrSingular)
		}
	}
	cov := mat.NewSymDense(n, nil)
	cov.SymOuterK(1, &inv)
	for i := range n {
		for j := i; j < n; j++ {
			cov.SetSym(i, j, cov.At(i, j)/size[i]/size[j])
		}
	}
	return Result{Params: s.p, Covariance: cov, RSS: s.rss, DOF: s.problem.N - n}, nil
}

// maxCondition limits the condition number of the Jacobian with columns of unit length:
// above it, rounding and the error of the differences would dominate the covariance.
const maxCondition = 1e10

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

func sumOfSquares(v []float64) float64 { return floats.Dot(v, v) }
