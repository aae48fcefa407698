package study

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/stat/distuv"
)

// ChartConstants are the factors of control charts for subgroups of N normal values. For
// the range R of a subgroup in units of sigma, D2 and D3 are its mean and standard
// deviation. C4 is the mean of the sample standard deviation. From these (Shewhart; as in
// the usual tables)
//
//	A2 = 3/(D2 sqrt N)   A3 = 3/(C4 sqrt N)   E2 = 3/D2
//	LowerR, UpperR = 1 -+ 3 D3/D2      (printed as D3, D4 in tables)
//	LowerS, UpperS = 1 -+ 3 sqrt(1 - C4^2)/C4   (B3, B4)
//
// Lower factors are at least zero.
type ChartConstants struct {
	N                              int
	D2, D3, C4                     float64
	A2, A3, E2                     float64
	LowerR, UpperR, LowerS, UpperS float64
}

// Constants computes the factors by numerical integration, for 2 <= n <= 1000:
// P(R <= w) = n int phi(x) (Phi(x+w) - Phi(x))^(n-1) dx, E R = int P(R > w) dw,
// E R^2 = 2 int w P(R > w) dw.
func Constants(n int) (ChartConstants, error) {
	if n < 2 || n > 1000 {
		return ChartConstants{}, fmt.Errorf("study: chart constants for subgroups of %d: 2 to 1000 are possible", n)
	}
	const widest = 20 // in sigma: a greater range has a probability under 1e-16
	beyond := func(w float64) float64 { return 1 - rangeBelow(n, w) }
	first := quad.Fixed(beyond, 0, widest, 200, quad.Legendre{}, 0)
	second := quad.Fixed(func(w float64) float64 { return 2 * w * beyond(w) }, 0, widest, 200, quad.Legendre{}, 0)

	size := float64(n)
	c := ChartConstants{N: n, D2: first, D3: math.Sqrt(second - first*first), C4: c4(size)}
	c.A2, c.A3, c.E2 = 3/(c.D2*math.Sqrt(size)), 3/(c.C4*math.Sqrt(size)), 3/c.D2
	r, s := 3*c.D3/c.D2, 3*math.Sqrt(1-c.C4*c.C4)/c.C4
	c.LowerR, c.UpperR = math.Max(0, 1-r), 1+r
	c.LowerS, c.UpperS = math.Max(0, 1-s), 1+s
	return c, nil
}

// rangeBelow returns the probability that the range of n normal values is below w. The
// trapezoidal rule is exact to rounding for such a smooth bell.
func rangeBelow(n int, w float64) float64 {
	const step = 0.05
	sum := 0.0
	for x := -9.0; x < 9; x += step {
		inside := distuv.UnitNormal.CDF(x+w) - distuv.UnitNormal.CDF(x)
		sum += distuv.UnitNormal.Prob(x) * math.Pow(inside, float64(n-1))
	}
	return float64(n) * sum * step
}

// c4 is sqrt(2/(n-1)) Gamma(n/2)/Gamma((n-1)/2).
func c4(n float64) float64 {
	upper, _ := math.Lgamma(n / 2)
	lower, _ := math.Lgamma((n - 1) / 2)
	return math.Sqrt(2/(n-1)) * math.Exp(upper-lower)
}
