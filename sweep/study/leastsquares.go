package study

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/mat"
)

// ErrUndetermined reports that the points do not determine the result.
var ErrUndetermined = errors.New("the points do not determine it")

// conditioned is the greatest condition number of the columns, each scaled to unit
// length, at which their coefficients count as determined.
const conditioned = 1e8

// columns are the columns of a linear problem, one entry for each point.
type columns [][]float64

// weighted returns the problem's matrix, with each row divided by its standard deviation
// and each column by its length, and these lengths.
func (c columns) weighted(sd []float64) (*mat.Dense, []float64) {
	m := mat.NewDense(len(sd), len(c), nil)
	lengths := make([]float64, len(c))
	for j, column := range c {
		for i, v := range column {
			lengths[j] = math.Hypot(lengths[j], v/sd[i])
		}
		for i, v := range column {
			m.Set(i, j, v/sd[i]/math.Max(lengths[j], math.SmallestNonzeroFloat64))
		}
	}
	return m, lengths
}

// solve returns the weighted least-squares coefficients and their chi-squared.
func (c columns) solve(y, sd []float64) (coefficients []float64, chi2 float64, err error) {
	m, lengths := c.weighted(sd)
	right := mat.NewVecDense(len(y), nil)
	for i := range y {
		right.SetVec(i, y[i]/sd[i])
	}
	var qr mat.QR
	qr.Factorize(m)
	var x mat.VecDense
	if !(qr.Cond() < conditioned) || qr.SolveVecTo(&x, false, right) != nil {
		return nil, 0, ErrUndetermined
	}
	coefficients = make([]float64, len(c))
	for j := range coefficients {
		coefficients[j] = x.AtVec(j) / lengths[j]
	}
	return coefficients, c.chiSquared(coefficients, y, sd), nil
}

// residuals returns y minus the fitted values.
func (c columns) residuals(coefficients, y []float64) []float64 {
	left := make([]float64, len(y))
	for i := range y {
		left[i] = y[i]
		for j := range c {
			left[i] -= coefficients[j] * c[j][i]
		}
	}
	return left
}

func (c columns) chiSquared(coefficients, y, sd []float64) float64 {
	sum := 0.0
	for i, r := range c.residuals(coefficients, y) {
		sum += square(r / sd[i])
	}
	return sum
}

// covariance returns inv(J'WJ) for the columns of J.
func (c columns) covariance(sd []float64) (*mat.SymDense, error) {
	m, lengths := c.weighted(sd)
	var normal mat.SymDense
	normal.SymOuterK(1, m.T())
	var cholesky mat.Cholesky
	var inverse mat.SymDense
	if !cholesky.Factorize(&normal) || !(cholesky.Cond() < conditioned*conditioned) || cholesky.InverseTo(&inverse) != nil {
		return nil, ErrUndetermined
	}
	for i := range lengths {
		for j := i; j < len(lengths); j++ {
			inverse.SetSym(i, j, inverse.At(i, j)/lengths[i]/lengths[j])
		}
	}
	return &inverse, nil
}

// scatter returns the factor by which stated standard deviations are too small, at least 1. If
// none are stated, it returns the scatter, which then is the standard deviation.
func scatter(chi2 float64, dof int, stated bool) float64 {
	scale := math.Sqrt(chi2 / float64(dof))
	if stated {
		return max(1, scale)
	}
	return scale
}
