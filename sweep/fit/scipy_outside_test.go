//go:build outside

package fit

import (
	"math"
	"math/rand/v2"
	"testing"

	"headtrue/dsp/pythontest"
)

// bySciPy is the result of scipy.optimize.least_squares.
type bySciPy struct {
	Params     []float64
	Covariance [][]float64
	RSS        float64
}

func askSciPy(t *testing.T, model string, x, y, start []float64) bySciPy {
	t.Helper()
	var found bySciPy
	pythontest.Ask(t, "testdata/least_squares.py", map[string]any{"model": model, "x": x, "y": y, "start": start}, &found)
	if len(found.Params) != len(start) {
		t.Fatalf("scipy: %d parameters, want %d", len(found.Params), len(start))
	}
	return found
}

// compareWithSciPy requires agreement: parameters within 1e-6 of their standard
// deviations, covariances within 1e-5 of the product of the two standard deviations,
// residual sum within 1e-9 of itself.
func compareWithSciPy(t *testing.T, name string, got Result, want bySciPy) {
	t.Helper()
	for i := range want.Params {
		if off := math.Abs(got.Params[i]-want.Params[i]) / (got.SD(i) * got.Scale()); !(off < 1e-6) {
			t.Errorf("%s: parameter %d is %.12g, by scipy %.12g: %.2g sd apart", name, i, got.Params[i], want.Params[i], off)
		}
		for j := range want.Params {
			scale := math.Sqrt(want.Covariance[i][i] * want.Covariance[j][j])
			if off := math.Abs(got.Covariance.At(i, j)-want.Covariance[i][j]) / scale; !(off < 1e-5) {
				t.Errorf("%s: covariance %d,%d is %.10g, by scipy %.10g", name, i, j, got.Covariance.At(i, j), want.Covariance[i][j])
			}
		}
	}
	if off := math.Abs(got.RSS-want.RSS) / want.RSS; !(off < 1e-9) {
		t.Errorf("%s: residual sum %.12g, by scipy %.12g", name, got.RSS, want.RSS)
	}
}

// TestCertifiedSetsAsSciPy has scipy solve certified sets too, which checks that the test
// asks scipy correctly.
func TestCertifiedSetsAsSciPy(t *testing.T) {
	for _, name := range []string{"Misra1a", "Gauss2", "Eckerle4"} {
		set := readStRD(t, name)
		got, err := Solve(set.problem(models[name]), set.starts[1])
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		compareWithSciPy(t, name, got, askSciPy(t, name, set.x, set.y, set.starts[1]))
	}
}

// TestAzimuthCurveAsSciPy fits a treble curve: power (sin u/u)^2 over a floor,
// in decibels, measured at 31 tilts to 0.3 dB, from five fixed seeds.
func TestAzimuthCurveAsSciPy(t *testing.T) {
	curve := func(x float64, p []float64) float64 {
		u := math.Pi * (x - p[0]) / p[2]
		power := 1.0
		if u != 0 {
			power = math.Pow(math.Sin(u)/u, 2)
		}
		return p[1] + 10*math.Log10(power+math.Pow(10, p[3]/10))
	}
	truth := []float64{2.5, -7, 27.3, -20} // ', dB, ', dB
	for seed := range uint64(5) {
		rng := rand.New(rand.NewPCG(seed, 17))
		var set strd
		for x := -30.0; x <= 30; x += 2 {
			set.x = append(set.x, x)
			set.y = append(set.y, curve(x, truth)+0.3*rng.NormFloat64())
		}
		start := []float64{-1, -5, 24, -15}
		got, err := Solve(set.problem(curve), start)
		if err != nil {
			t.Fatal(err)
		}
		compareWithSciPy(t, "azimuth curve", got, askSciPy(t, "azimuth", set.x, set.y, start))
	}
}
