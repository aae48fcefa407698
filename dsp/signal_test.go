package dsp

import (
	"math"
	"math/cmplx"
	"math/rand/v2"

	"gonum.org/v1/gonum/dsp/fourier"

	"headtrue/dsp/audio"
)

// Test signals, made without the package's own code.

const testRate = 48000

func random(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 77)) }

// filtered passes a signal, treated as a loop, through a frequency response.
func filtered(x []float64, response func(hz float64) complex128) []float64 {
	fft := fourier.NewFFT(len(x))
	z := fft.Coefficients(nil, x)
	for k := range z {
		hz := float64(k) / float64(len(x)) * testRate
		z[k] *= response(hz) / complex(float64(len(x)), 0)
	}
	z[0] = 0
	z[len(z)-1] = 0
	return fft.Sequence(nil, z)
}

// delay is the shift theorem: y(t) = x(t - d) is Y = X exp(-2 pi i f d).
func delay(us float64) func(hz float64) complex128 {
	return func(hz float64) complex128 { return cmplx.Rect(1, -2*math.Pi*hz*us*1e-6) }
}

// tilted is the response of one track of a tilted head: azimuth loss sin(x)/x, x = pi w
// tan(theta) f/v, w = 0.6 mm, v = 47.6 mm/s, delayed.
func tilted(arcmin, us float64) func(hz float64) complex128 {
	return func(hz float64) complex128 {
		x := math.Pi * 0.6 * math.Tan(arcmin/60*math.Pi/180) * hz / 47.6
		loss := 1.0
		if x != 0 {
			loss = math.Sin(x) / x
		}
		return complex(loss, 0) * delay(us)(hz)
	}
}

func white(r *rand.Rand, n int, rms float64) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = rms * r.NormFloat64()
	}
	return x
}

// programme is noise that falls by 3 dB per octave above 200 Hz, about like music, at an
// rms of 0.1, with a varying envelope if moving is set.
func programme(r *rand.Rand, n int, moving bool) []float64 {
	x := filtered(white(r, n, 1), func(hz float64) complex128 {
		if hz < 40 || hz > 16000 {
			return 0
		}
		return complex(1/math.Sqrt(max(hz, 200)/200), 0)
	})
	if moving {
		// Beats of 2 to 5 a second with a steep start, 20 dB deep.
		gain, place := 1.0, 0
		for i := range x {
			if i == place {
				gain = 1
				place += testRate/5 + r.IntN(testRate*3/10)
			}
			gain *= 1 - 2.3/(0.3*testRate)
			x[i] *= max(gain, 0.1)
		}
	}
	var squares float64
	for _, v := range x {
		squares += v * v
	}
	scale := 0.1 / math.Sqrt(squares/float64(n))
	for i := range x {
		x[i] *= scale
	}
	return x
}

// bandPower returns the mean square between two frequencies, by one transform over the
// whole signal (Parseval).
func bandPower(x []float64, low, high float64) float64 {
	z := fourier.NewFFT(len(x)).Coefficients(nil, x)
	var sum float64
	for k := range z {
		if hz := float64(k) / float64(len(x)) * testRate; hz >= low && hz < high {
			sum += 2 * (real(z[k])*real(z[k]) + imag(z[k])*imag(z[k]))
		}
	}
	return sum / float64(len(x)) / float64(len(x))
}

// hissFor returns the rms of white noise that is db below the signal's own power between
// 6 and 14 kHz.
func hissFor(x []float64, db float64) float64 {
	treble := bandPower(x, 6000, 14000)
	density := treble * math.Pow(10, -db/10) / 8000
	return math.Sqrt(density * testRate / 2)
}

func plus(x, y []float64) []float64 {
	z := make([]float64, len(x))
	for i := range x {
		z[i] = x[i] + y[i]
	}
	return z
}

func times(x []float64, gain float64) []float64 {
	z := make([]float64, len(x))
	for i := range x {
		z[i] = gain * x[i]
	}
	return z
}

// stereo is left and right.
type stereo struct{ left, right []float64 }

// heard feeds sound to a meter in blocks of 1024 and reads it.
func heard(m *Meter, s stereo) Reading {
	feed(m, 0, s.left, s.right)
	return m.Reading()
}

func feed(m *Meter, start int, left, right []float64) {
	for i := 0; i < len(left); i += 1024 {
		end := min(i+1024, len(left))
		m.Add(audio.Block{Start: int64(start + i), Left: left[i:end], Right: right[i:end]})
	}
}

// toneOf is a sine with a varying frequency: deviation is the peak relative change, at
// wobbleHz. The phase is the integral of the frequency.
func toneOf(n int, hz, amplitude, phaseDeg, deviation, wobbleHz float64) []float64 {
	x := make([]float64, n)
	for i := range x {
		t := float64(i) / testRate
		turns := hz * t
		if deviation != 0 {
			turns += hz * deviation / (2 * math.Pi * wobbleHz) * (1 - math.Cos(2*math.Pi*wobbleHz*t))
		}
		x[i] = amplitude * math.Sin(2*math.Pi*turns+phaseDeg*math.Pi/180)
	}
	return x
}
