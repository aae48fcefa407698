package estimate

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"

	"headtrue/sweep/record"
	"headtrue/sweep/tape"
)

// pieceSeconds is the length of a piece of a dwell.
const pieceSeconds = 0.25

// flatWander returns the covariance over a time of the means over pieces, for a wander of
// 1' rms with a flat spectrum from lowHz to 5 Hz.
func flatWander(lowHz float64) func(seconds float64) float64 {
	const high, n = 5.0, 2000
	return func(seconds float64) (sum float64) {
		for i := range n {
			f := lowHz + (high-lowHz)*(float64(i)+0.5)/n
			x := math.Pi * f * pieceSeconds
			sum += math.Pow(math.Sin(x)/x, 2) * math.Cos(2*math.Pi*f*seconds) / n
		}
		return sum
	}
}

// The rms error of a dwell's mean is at most 1.2 times the floor: the best result of any
// weighting of its pieces if the spectrum of the wander is known (generalised least
// squares, Aitken 1935). The program estimates the spectrum. The floor counts as at least
// 0.05', less than stiction and microsteps contribute to a place (arrivalSDDeg): a lower
// one takes a spectrum with a sharp edge, which the program does not look for.
func TestDwellIsNearItsFloor(t *testing.T) {
	t.Parallel()
	const noise, runs = 0.05, 400 // arcmin
	for _, lowHz := range []float64{0.05, 0.1, 0.2} {
		covariance := flatWander(lowHz)
		for _, seconds := range []float64{2, 4, 8} {
			n := int(seconds / pieceSeconds)
			c := mat.NewSymDense(n, nil)
			for i := range n {
				for j := i; j < n; j++ {
					c.SetSym(i, j, covariance(float64(j-i)*pieceSeconds))
				}
				c.SetSym(i, i, c.At(i, i)+noise*noise)
			}
			var chol mat.Cholesky
			if !chol.Factorize(c) {
				t.Fatal("no covariance")
			}
			ones := mat.NewVecDense(n, nil)
			for i := range n {
				ones.SetVec(i, 1)
			}
			var w mat.VecDense
			if err := chol.SolveVecTo(&w, ones); err != nil {
				t.Fatal(err)
			}
			floor := math.Sqrt(1 / mat.Dot(&w, ones))
			var lower mat.TriDense
			chol.LTo(&lower)
			draw := rand.New(rand.NewPCG(uint64(100*lowHz), uint64(seconds)))
			var sum, own float64
			for range runs {
				z := mat.NewVecDense(n, nil)
				for i := range n {
					z.SetVec(i, draw.NormFloat64())
				}
				var x mat.VecDense
				x.MulVec(&lower, z)
				s := Standing{Tape: tape.StereoCassette}
				for i := range n {
					s.hearing.add((float64(i)+0.5)*pieceSeconds, pieceSeconds, noise)
					s.Tilt = append(s.Tilt, x.AtVec(i))
				}
				d := s.Weigh(priorWander(), record.Reading{Seconds: seconds, DelayNoiseSDUS: tape.StereoCassette.Microseconds(noise / math.Sqrt(float64(n)))})
				sum += d.Tilt * d.Tilt
				own += d.OwnSD * d.OwnSD
			}
			rms, own := math.Sqrt(sum/runs), math.Sqrt(own/runs)
			t.Logf("low cut %g Hz, %g s: %.3f' rms, %.2f times the floor of %.3f', stated %.3f'", lowHz, seconds, rms, rms/floor, floor, own)
			if rms > 1.2*math.Max(floor, 0.05) {
				t.Errorf("low cut %g Hz, %g s: %.3f' rms, %.2f times the floor", lowHz, seconds, rms, rms/floor)
			}
		}
	}
}
