package bound

import "math"

// Band is a stretch of the spectrum, in hertz.
type Band struct{ LowHz, HighHz float64 }

func (b Band) width() float64 { return b.HighHz - b.LowHz }

// ProgrammeDelaySDUS returns the bound on the delay between two channels that share a
// stationary Gaussian programme, heard for some seconds, from their coherence (magnitude
// squared) over the band:
//
//	var D >= 1 / (2 T int (2 pi f)^2 g/(1-g) df)
//
// Knapp and Carter, IEEE Trans. ASSP 24(4) 320-327, 1976. It holds if T is long against
// the delay and the signal is strong enough that no false peak is the highest.
func ProgrammeDelaySDUS(seconds float64, band Band, coherence func(hz float64) float64) float64 {
	information := 2 * seconds * integral(band.LowHz, band.HighHz, delayPieces, func(hz float64) float64 {
		g, w := coherence(hz), 2*math.Pi*hz
		return w * w * g / (1 - g)
	})
	return 1e6 / math.Sqrt(information)
}

// delayPieces is the number of pieces of the band: coherence changes little over a
// hundredth of a band.
const delayPieces = 400

// FlatDelaySDUS returns the same for a constant coherence over the band: var D >= 3(1-g)
// / (8 pi^2 T g (f2^3-f1^3)).
func FlatDelaySDUS(seconds float64, band Band, coherence float64) float64 {
	cubes := math.Pow(band.HighHz, 3) - math.Pow(band.LowHz, 3)
	return 1e6 * math.Sqrt(3*(1-coherence)/(8*math.Pi*math.Pi*seconds*coherence*cubes))
}

// NoisyCoherence returns the coherence of a programme with independent noise added to
// both channels at these signal-to-noise ratios.
func NoisyCoherence(coherence, leftSNR, rightSNR float64) float64 {
	return coherence * leftSNR / (1 + leftSNR) * rightSNR / (1 + rightSNR)
}

// integral uses the midpoint rule.
func integral(lo, hi float64, pieces int, f func(float64) float64) float64 {
	step := (hi - lo) / float64(pieces)
	var sum float64
	for i := range pieces {
		sum += f(lo + (float64(i)+0.5)*step)
	}
	return sum * step
}
