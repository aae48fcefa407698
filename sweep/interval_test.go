package sweep

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

// rmsInterval returns the 95 % interval of a root mean square of n errors: n rms^2 over the
// variance is chi-squared with n degrees of freedom if errors are normal about 0. Errors
// with longer tails vary by more than this interval.
func rmsInterval(rms float64, n int) (lo, hi float64) {
	if n == 0 {
		return 0, math.Inf(1)
	}
	chi := distuv.ChiSquared{K: float64(n)}
	return rms * math.Sqrt(float64(n)/chi.Quantile(0.975)), rms * math.Sqrt(float64(n)/chi.Quantile(0.025))
}

// binomialLimits returns the 95 % limits of a share, k of n (Clopper and Pearson, Biometrika
// 26, 404-413, 1934; from memory).
func binomialLimits(k, n int) (lo, hi float64) {
	hi = 1
	if k > 0 {
		lo = distuv.Beta{Alpha: float64(k), Beta: float64(n - k + 1)}.Quantile(0.025)
	}
	if k < n {
		hi = distuv.Beta{Alpha: float64(k + 1), Beta: float64(n - k)}.Quantile(0.975)
	}
	return lo, hi
}

// The figures are scipy's: stats.chi2.ppf of 0.025 and 0.975 with 8 and 200
// degrees of freedom, stats.binomtest(k, n).proportion_ci().
func TestIntervalsAgainstScipy(t *testing.T) {
	near := func(what string, got, want float64) {
		t.Helper()
		if math.Abs(got-want) > 1e-6 {
			t.Errorf("%s: %.8f, scipy says %.8f", what, got, want)
		}
	}
	for n, chi := range map[int][2]float64{8: {2.17973075, 17.53454614}, 200: {162.72798250, 241.05789551}} {
		lo, hi := rmsInterval(1, n)
		near("chi-squared, low", float64(n)/(hi*hi), chi[0])
		near("chi-squared, high", float64(n)/(lo*lo), chi[1])
	}
	for _, c := range []struct {
		k, n   int
		lo, hi float64
	}{
		{0, 1000, 0.00000000, 0.00368208},
		{190, 200, 0.90997246, 0.97576583},
		{7, 8, 0.47349033, 0.99684028},
		{12, 12, 0.73535153, 1.00000000},
	} {
		lo, hi := binomialLimits(c.k, c.n)
		near("binomial, low", lo, c.lo)
		near("binomial, high", hi, c.hi)
	}
}

func square(x float64) float64 { return x * x }
