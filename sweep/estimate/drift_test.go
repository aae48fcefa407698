package estimate

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
)

var drifts = []drift{{Rms: 1.3, seconds: 0.1, returns: 1.6}, {Rms: 0.7, seconds: 0.4}}

// over returns the covariance of a drift over a time, by the formula in its comment.
func (d drift) over(seconds float64) float64 {
	b := 1 / d.seconds
	if d.returns == 0 {
		return d.Rms * d.Rms * math.Exp(-b*seconds)
	}
	a := 1 / d.returns
	return d.Rms * d.Rms * (b*math.Exp(-b*seconds) - a*math.Exp(-a*seconds)) / (b - a)
}

// meanOver returns the covariance of its means over two stretches, by sums over instants.
func (d drift) meanOver(h hearing, i, j int) float64 {
	const n = 300
	var sum float64
	for k := range n {
		for l := range n {
			one := h.at[i] + h.seconds[i]*((float64(k)+0.5)/n-0.5)
			other := h.at[j] + h.seconds[j]*((float64(l)+0.5)/n-0.5)
			sum += d.over(math.Abs(one-other)) / (n * n)
		}
	}
	return sum
}

// The whitener's sequential result equals that of the Cholesky factor (gonum) of the
// whole covariance, for means over stretches and for instants.
func TestWhitenerAgainstCholesky(t *testing.T) {
	for _, d := range drifts {
		const n = 15
		rng := rand.New(rand.NewPCG(1, 2))
		var h hearing
		var ended float64
		r := make([]float64, n)
		for i := range r {
			length := 0.0
			if i%4 != 3 {
				length = 0.05 + rng.Float64()
			}
			gap := 0.3 * rng.Float64() * float64(i%3) // some follow immediately
			h.add(ended+gap+length/2, length, 0.1+0.2*rng.Float64())
			ended += gap + length
			r[i] = rng.NormFloat64()
		}
		all := mat.NewSymDense(n, nil)
		for i := range n {
			for j := range i + 1 {
				all.SetSym(i, j, d.meanOver(h, i, j))
			}
			all.SetSym(i, i, all.At(i, i)+square(h.sd[i]))
		}
		var chol mat.Cholesky
		if !chol.Factorize(all) {
			t.Fatal("the covariance is not positive definite")
		}
		var lower mat.TriDense
		chol.LTo(&lower)
		want := mat.NewVecDense(n, nil)
		if err := want.SolveVec(&lower, mat.NewVecDense(n, r)); err != nil {
			t.Fatal(err)
		}
		w, got := newWhitener(d, h), make([]float64, n)
		w.whiten(got, r)
		for i := range got {
			if math.Abs(got[i]-want.AtVec(i)) > 1e-3 {
				t.Errorf("%+v: value %d is %g, want %g", d, i, got[i], want.AtVec(i))
			}
		}
		if math.Abs(w.logs-chol.LogDet()) > 1e-3 {
			t.Errorf("%+v: logarithm of the determinant %g, want %g", d, w.logs, chol.LogDet())
		}
	}
}

// The variance of the mean is the mean of the covariance over all pairs of instants.
func TestMeanSD(t *testing.T) {
	for _, d := range drifts {
		for _, seconds := range []float64{0.5, 2, 8} {
			const n = 4000
			sum := d.over(0) / n
			for i := 1; i < n; i++ {
				sum += 2 * (1 - float64(i)/n) * d.over(seconds*float64(i)/n) / n
			}
			if got, want := d.meanSD(seconds), math.Sqrt(sum); math.Abs(got-want) > 1e-3*want {
				t.Errorf("%+v over %g s: %g, want %g", d, seconds, got, want)
			}
		}
	}
}

// If nothing can be fitted, a dwell still uses the prior of the wander.
func TestWanderWithoutALine(t *testing.T) {
	near := []Point{{Deg: 0, Home: true, ByX: true}, {Deg: 1, Home: true, ByX: true}}
	for _, ps := range [][]Point{nil, near} {
		if sd := FitMount(ps, 1).Wander.MeanSD(1); !(sd > 0.1 && sd < 2) {
			t.Errorf("%d points: %g'", len(ps), sd)
		}
	}
}
