package bench

import (
	"math"
	"math/rand/v2"
	"sync"

	"gonum.org/v1/gonum/dsp/fourier"
)

// Streams of random numbers, one for each process, so that no process changes another's
// numbers. Append only: the order is part of the meaning of a seed.
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
	streamHolds
	streamJig
	streamCyclic
	streamStick
	streamPrograms
)

// stream returns the random numbers of one process.
func stream(seed, process uint64) *rand.Rand {
	return rand.New(rand.NewPCG(seed, process*0x9e3779b97f4a7c15))
}

// uniform returns a number uniform within +-half.
func uniform(r *rand.Rand, half float64) float64 { return half * (2*r.Float64() - 1) }

// drift is a slow random process, made once for a seed and repeated in a loop of many
// minutes.
type drift struct {
	value []float64
	// step is the number of values per control period.
	step float64
	gain float64
}

// spectrum is the shape of a drift: the length of its loop, and the amplitude of each
// step of its spectrum, on any scale.
type spectrum struct {
	step      float64 // values per control period
	n         int     // values in the loop
	amplitude []float64
	weight    []float64 // of each step in the rms
}

// newSpectrum returns the spectrum of a loop of at least this many seconds, with a power
// per hertz on any scale and a weight per frequency (nil: all 1).
func newSpectrum(seconds, valuesPerControl float64, density, weight func(hz float64) float64) *spectrum {
	rate := controlRate * valuesPerControl
	n := 1 << int(math.Ceil(math.Log2(seconds*rate)))
	s := &spectrum{step: valuesPerControl, n: n, amplitude: make([]float64, n/2), weight: make([]float64, n/2)}
	for k := 1; k < n/2; k++ {
		hz := float64(k) * rate / float64(n)
		s.amplitude[k], s.weight[k] = math.Sqrt(density(hz)), 1
		if weight != nil && s.amplitude[k] > 0 {
			s.weight[k] = weight(hz)
		}
	}
	return s
}

// newDrift makes a Gaussian process of a spectrum, scaled to a weighted root mean square
// of rms.
func newDrift(r *rand.Rand, rms float64, s *spectrum) *drift {
	d := &drift{step: s.step, value: []float64{0}}
	if rms == 0 {
		return d
	}
	coef := make([]complex128, s.n/2+1)
	var power float64
	for k, a := range s.amplitude {
		if a == 0 {
			continue
		}
		coef[k] = complex(a*r.NormFloat64(), a*r.NormFloat64())
		w, re, im := s.weight[k], real(coef[k]), imag(coef[k])
		power += 2 * (re*re + im*im) * w * w
	}
	if power == 0 {
		return d
	}
	d.value = sequence(coef, s.n)
	d.gain = rms / math.Sqrt(power)
	return d
}

// ffts keeps transforms by their length: making one takes nearly as long as using it, and
// every bench needs the same few.
var ffts sync.Map

// sequence returns the inverse transform to n values.
func sequence(coef []complex128, n int) []float64 {
	kept, _ := ffts.LoadOrStore(n, &sync.Pool{New: func() any { return fourier.NewFFT(n) }})
	fft := kept.(*sync.Pool).Get().(*fourier.FFT)
	defer kept.(*sync.Pool).Put(fft)
	return fft.Sequence(nil, coef)
}

// at returns the value at a control period, by linear interpolation.
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

// band is a power density, flat or 1/f, between two frequencies.
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

// amplitude returns the linear value of a level in dB.
func amplitude(db float64) float64 { return math.Pow(10, db/20) }

// noiseRMS returns the root mean square, in samples, of a level in dBFS (a full-scale
// sine is 0 dBFS, rms 1/sqrt 2); -150 dBFS or lower gives 0.
func noiseRMS(dbfs float64) float64 {
	if dbfs <= -150 {
		return 0
	}
	return amplitude(dbfs) / math.Sqrt2
}
