package bench

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/dsp/fourier"
)

// Streams of random numbers, one for each process, so that no process moves
// another's numbers. Append only: the order is part of what a seed means.
const (
	streamDraws uint64 = iota + 1
	streamMusic
	streamHiss
	streamElectronics
	streamMotor
	streamWander
	streamFlutter
	streamSpacing
	streamDropouts
	streamRotor
	streamSlack
)

// stream returns the random numbers of one process.
func stream(seed, process uint64) *rand.Rand {
	return rand.New(rand.NewPCG(seed, process*0x9e3779b97f4a7c15))
}

// uniform is evenly distributed over +-r.
func uniform(r *rand.Rand, half float64) float64 { return half * (2*r.Float64() - 1) }

// drift is a slow random process, made once for a seed and played in a loop of
// many minutes.
type drift struct {
	value []float64
	// step is how many values pass per control period.
	step float64
	gain float64
}

// newDrift makes a Gaussian process of the given spectrum. density is its
// power per hertz, of any scale; it is scaled so that its root mean square
// after weighting each frequency by weight (nil: no weighting) is rms.
func newDrift(r *rand.Rand, seconds float64, valuesPerControl float64, rms float64, density, weight func(hz float64) float64) *drift {
	d := &drift{step: valuesPerControl, value: []float64{0}}
	if rms == 0 {
		return d
	}
	rate := controlRate * valuesPerControl
	n := 1 << int(math.Ceil(math.Log2(seconds*rate)))
	coef := make([]complex128, n/2+1)
	var power float64
	for k := 1; k < n/2; k++ {
		hz := float64(k) * rate / float64(n)
		p := density(hz)
		if p == 0 {
			continue
		}
		a := math.Sqrt(p)
		coef[k] = complex(a*r.NormFloat64(), a*r.NormFloat64())
		w := 1.0
		if weight != nil {
			w = weight(hz)
		}
		re, im := real(coef[k]), imag(coef[k])
		power += 2 * (re*re + im*im) * w * w
	}
	if power == 0 {
		return d
	}
	d.value = fourier.NewFFT(n).Sequence(nil, coef)
	d.gain = rms / math.Sqrt(power)
	return d
}

// at is the value at a control period, by linear interpolation.
func (d *drift) at(control int64) float64 {
	if d.gain == 0 {
		return 0
	}
	x := float64(control) * d.step
	i := math.Floor(x)
	k := int(int64(i) % int64(len(d.value)))
	next := k + 1
	if next == len(d.value) {
		next = 0
	}
	return d.gain * (d.value[k] + (x-i)*(d.value[next]-d.value[k]))
}

// band is power spread evenly, or as 1/f, between two frequencies.
func band(shape string, lowHz, highHz float64) func(float64) float64 {
	return func(hz float64) float64 {
		switch {
		case hz < lowHz || hz > highHz:
			return 0
		case shape == "1/f":
			return 1 / hz
		}
		return 1
	}
}

// amplitude is the linear value of a level in dB.
func amplitude(db float64) float64 { return math.Pow(10, db/20) }

// noiseRMS is the root mean square, in samples, of a level in dBFS (full-scale
// sine 0 dBFS, so a rms of 1/sqrt 2); -150 dBFS or lower is none.
func noiseRMS(dbfs float64) float64 {
	if dbfs <= -150 {
		return 0
	}
	return amplitude(dbfs) / math.Sqrt2
}
