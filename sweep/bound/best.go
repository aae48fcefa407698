package bound

import (
	"math"
	"math/cmplx"
	"slices"
)

// cells are a stretch of tape cut into equal cells: the covariance of the wander's means
// over two cells that are 0, 1, 2, ... cells apart.
type cells []float64

// BestMeanSDArcmin returns the standard deviation of the best linear unbiased estimate of
// a constant that is heard for some seconds through wander and white noise of known
// spectra: generalised least squares (A. C. Aitken, Proc. Royal Society of Edinburgh 55,
// 42-48, 1935),
//
//	var = 1/(1' inv(C) 1)
//
// noiseSDArcmin is the standard deviation of the mean of the whole stretch by white noise
// alone. If wander and noise are Gaussian, no unbiased method is better. It is less than
// that of the even mean (MeanSDArcmin): wander without power below some frequency is
// estimated and subtracted. Without noise this works without limit, so the bound is then
// 0.
func (w Wander) BestMeanSDArcmin(seconds, noiseSDArcmin float64) float64 {
	if w.RMSArcmin == 0 || noiseSDArcmin == 0 {
		return noiseSDArcmin
	}
	return w.cells(seconds, cellsPerPeriod, fewestCells).bestMeanSD(noiseSDArcmin)
}

const (
	// cellsPerPeriod is the number of cells in the shortest period of the wander. A test
	// checks that more cells change the bound by less than 1 %.
	cellsPerPeriod = 16
	// fewestCells is the least number of cells of a stretch, even a short one.
	fewestCells = 128
)

// cells cuts a stretch into cells. The covariance of the means over two cells of length
// d, k cells apart, is
//
//	int S(f) (sin(pi f d)/(pi f d))^2 cos(2 pi f k d) df
//
// computed by Gauss's rule in pieces no wider than one period of the cosine, nor than an
// octave, over which 1/f changes little.
func (w Wander) cells(seconds float64, perPeriod, fewest int) cells {
	out := make(cells, max(fewest, int(math.Ceil(seconds*w.HighHz*float64(perPeriod)))))
	if w.RMSArcmin == 0 {
		return out
	}
	cell := seconds / float64(len(out))
	for low := w.LowHz; low < w.HighHz; {
		high := min(low+1/seconds, w.HighHz)
		if low > 0 {
			high = min(high, 2*low)
		}
		for i, node := range gaussNodes {
			hz := low + (high-low)*(1+node)/2
			x := math.Pi * hz * cell
			mean := math.Sin(x) / x
			power := w.density(hz) * mean * mean * gaussWeights[i] * (high - low) / 2
			turn, at := cmplx.Rect(1, 2*x), complex(power, 0)
			for k := range out {
				out[k] += real(at)
				at *= turn
			}
		}
		low = high
	}
	return out
}

// bestMeanSD adds white noise to the wander: C is a Toeplitz matrix, and none of its
// eigenvalues is less than that of the noise.
func (c cells) bestMeanSD(noiseSDArcmin float64) float64 {
	column := slices.Clone(c)
	column[0] += noiseSDArcmin * noiseSDArcmin * float64(len(c))
	return 1 / math.Sqrt(informationOfMean(column))
}

// Gauss-Legendre rule of eight points, Abramowitz and Stegun 1964, table 25.4.
var (
	gaussNodes = [8]float64{-0.960289856497536, -0.796666477413627, -0.525532409916329, -0.183434642495650,
		0.183434642495650, 0.525532409916329, 0.796666477413627, 0.960289856497536}
	gaussWeights = [8]float64{0.101228536290376, 0.222381034453374, 0.313706645877887, 0.362683783378362,
		0.362683783378362, 0.313706645877887, 0.222381034453374, 0.101228536290376}
)

// informationOfMean returns 1' inv(C) 1 of the symmetric Toeplitz matrix with this first
// column, by the Levinson-Durbin recursion (Golub and Van Loan, Matrix Computations,
// section 4.7; from memory). inv(C) is the sum of a a'/e, with the filters a that predict
// a sample from the 0, 1, 2, ... before it, and the variances e of their residuals. All
// terms are squares, so nothing cancels.
func informationOfMean(column []float64) float64 {
	filter := make([]float64, 1, len(column)) // the sample itself, then those before it
	filter[0] = 1
	last := make([]float64, len(column))
	variance := column[0]
	sum := 1 / variance
	for k := 1; k < len(column); k++ {
		var ahead float64
		for i, a := range filter {
			ahead += a * column[k-i]
		}
		reflection := -ahead / variance
		copy(last, filter)
		filter = append(filter, 0)
		total := 1.0
		for i := 1; i <= k; i++ {
			filter[i] += reflection * last[k-i]
			total += filter[i]
		}
		variance *= 1 - reflection*reflection
		sum += total * total / variance
	}
	return sum
}
