package bound

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"
)

// The closed form for a flat band equals the integral, for several bands and coherences.
func TestProgrammeDelayIntegralAgainstClosedForm(t *testing.T) {
	for _, band := range []Band{{0, 8000}, {6000, 14000}, {1000, 12000}} {
		for _, g := range []float64{0.1, 0.8, 0.99} {
			got := ProgrammeDelaySDUS(3, band, func(float64) float64 { return g })
			within(t, "delay", got, FlatDelaySDUS(3, band, g), 1e-5)
		}
	}
}

// A coherence that changes over the band: the information of two flat halves adds up.
func TestProgrammeDelayOfTwoHalves(t *testing.T) {
	got := ProgrammeDelaySDUS(2, Band{4000, 12000}, func(hz float64) float64 {
		if hz < 8000 {
			return 0.3
		}
		return 0.7
	})
	a, b := FlatDelaySDUS(2, Band{4000, 8000}, 0.3), FlatDelaySDUS(2, Band{8000, 12000}, 0.7)
	within(t, "delay", got, 1/math.Sqrt(1/(a*a)+1/(b*b)), 1e-5)
}

// Equal channels with noise of the same density have the form of Knapp and Carter's bound
// in signal-to-noise ratios: g/(1-g) = r1 r2/(1+r1+r2).
func TestNoisyCoherenceInSignalToNoise(t *testing.T) {
	g := NoisyCoherence(1, 7, 3)
	within(t, "g/(1-g)", g/(1-g), 7*3/(1.0+7+3), 1e-12)
}

// The maximum-likelihood delay of flat Gaussian channels is the top of their
// cross-correlation over the band; it reaches its bound.
func TestProgrammeDelayBoundIsReached(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 2))
	band := Band{6000, 14000}
	const seconds, g, truth = 0.25, 0.5, 3e-6
	var lines []float64 // one independent line per 1/T
	for hz := band.LowHz + 0.5/seconds; hz < band.HighHz; hz += 1 / seconds {
		lines = append(lines, 2*math.Pi*hz)
	}
	gauss := func() complex128 { return complex(rng.NormFloat64(), rng.NormFloat64()) }
	cross := make([]complex128, len(lines))
	var square float64
	for range trials {
		for i, w := range lines {
			// amplitudes share sqrt(g): coherence g between the channels
			s, share := gauss(), math.Sqrt(math.Sqrt(g))
			rest := complex(math.Sqrt(1-share*share), 0)
			left := complex(share, 0)*s + rest*gauss()
			right := complex(share, 0)*s*cmplx.Rect(1, -w*truth) + rest*gauss()
			cross[i] = left * cmplx.Conj(right)
		}
		off := topOf(lines, cross, truth) - truth
		square += off * off / trials
	}
	within(t, "delay over its bound", math.Sqrt(square)*1e6, FlatDelaySDUS(seconds, band, g), mostBeside)
}

// topOf returns the delay at which the sum of the lines is greatest, by Newton's method.
func topOf(lines []float64, cross []complex128, delay float64) float64 {
	for range 20 {
		var slope, bend float64
		for i, w := range lines {
			z := cross[i] * cmplx.Rect(1, -w*delay)
			slope += w * imag(z)
			bend -= w * w * real(z)
		}
		delay -= slope / bend
	}
	return delay
}
