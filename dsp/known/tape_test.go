package known

import (
	"cmp"
	"context"
	"io"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"

	"headtrue/dsp/audio"
)

// Mixes and tapes, made without the package's own code.

const testRate = 48000

func random(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 55)) }

// filtered passes a signal, treated as a loop, through a frequency response.
func filtered(x []float64, rate float64, response func(hz float64) complex128) []float64 {
	fft := fourier.NewFFT(len(x))
	z := fft.Coefficients(nil, x)
	for k := range z {
		z[k] *= response(float64(k)/float64(len(x))*rate) / complex(float64(len(x)), 0)
	}
	return fft.Sequence(nil, z)
}

// later is the shift theorem: y(t) = x(t - d) is Y = X exp(-2 pi i f d).
func later(us float64) func(hz float64) complex128 {
	return func(hz float64) complex128 { return cmplx.Rect(1, -2*math.Pi*hz*us*1e-6) }
}

// tilted returns the response of one track of a tilted head: sin(x)/x with x = pi w
// tan(theta) f/v, w = 0.6 mm, v = 47.6 mm/s.
func tilted(arcmin, hz float64) float64 {
	x := math.Pi * 0.6 * math.Tan(arcmin/60*math.Pi/180) * hz / 47.6
	if x == 0 {
		return 1
	}
	return math.Sin(x) / x
}

// source is one player: noise that falls by 3 dB per octave above 200 Hz, with beats at
// uneven times, rms 0.1.
func source(r *rand.Rand, frames int) []float64 {
	x := make([]float64, frames)
	gain, place := 1.0, 0
	for i := range x {
		if i == place {
			gain = 0.4 + 0.6*r.Float64()
			place += testRate/8 + r.IntN(testRate/3)
		}
		gain *= 1 - 2.3/(0.3*testRate)
		x[i] = max(gain, 0.1) * r.NormFloat64()
	}
	x = filtered(x, testRate, func(hz float64) complex128 {
		if hz < 40 || hz > 16000 {
			return 0
		}
		return complex(1/math.Sqrt(max(hz, 200)/200), 0)
	})
	return times(x, 0.1/rms(x))
}

func rms(x []float64) float64 {
	var squares float64
	for _, v := range x {
		squares += v * v
	}
	return math.Sqrt(squares / float64(len(x)))
}

func times(x []float64, gain float64) []float64 {
	y := make([]float64, len(x))
	for i := range x {
		y[i] = gain * x[i]
	}
	return y
}

func plus(x, y []float64) []float64 {
	z := make([]float64, len(x))
	for i := range x {
		z[i] = x[i] + y[i]
	}
	return z
}

// mix is a player in the middle, one of some width to each side, and one with a share of
// the power whose right channel truly comes later.
func mix(seed uint64, seconds int, share, us float64) stereo {
	r, n := random(seed), seconds*testRate
	middle, side, second := source(r, n), source(r, n), times(source(r, n), math.Sqrt(share/(1-share)))
	return stereo{
		plus(plus(middle, times(side, 0.3)), second),
		plus(plus(middle, times(side, -0.3)), filtered(second, testRate, later(us))),
	}
}

// deck describes the effect of a tape deck on a reference.
type deck struct {
	start, seconds float64    // of the reference, where the tape begins; length of tape
	speed          float64    // 1.01 is fast
	wow            float64    // peak, relative, in three parts
	tilt           float64    // arcmin; makes the loss and the delay, 5.5 us each
	channelUS      float64    // further delay of the right channel
	gainDB         [2]float64 // of each channel
	refRate        int        // of the reference, testRate if 0
	hissDB         float64    // programme over hiss, 6 to 14 kHz, of the untilted tape
	seed           uint64
}

// play makes the tape: the reference is interpolated four times by a longer transform,
// read at uneven times by a cubic through four points, filtered and mixed with hiss.
func (d deck) play(ref stereo) (tape stereo) {
	n := int(d.seconds*testRate) / 960 * 960
	r := random(d.seed + 1000)
	for c := range 2 {
		x := d.warped(ref[c], n)
		side := float64(2*c - 1)
		delay := later(side * (d.tilt*5.5 + d.channelUS) / 2)
		gain := math.Pow(10, d.gainDB[c]/20)
		hiss := hissUnder(x, d.hissDB)
		y := filtered(x, testRate, func(hz float64) complex128 {
			return complex(gain*tilted(d.tilt, hz), 0) * delay(hz)
		})
		for i := range y {
			y[i] += hiss * r.NormFloat64()
		}
		tape[c] = y
	}
	return tape
}

func (d deck) warped(x []float64, frames int) []float64 {
	const finer = 4
	const spare = 1.5 // seconds to either side, for the transform's loop
	rate := float64(cmp.Or(d.refRate, testRate))
	first := max(0, int((d.start-spare)*rate))
	length := int((d.seconds*d.speed + 2*spare) * rate)
	x = x[first:min(len(x), first+length)]
	x = x[:len(x)/24000*24000] // few large factors, for the transform
	fft := fourier.NewFFT(len(x))
	z := append(fft.Coefficients(nil, x), make([]complex128, (finer-1)*len(x)/2)...)
	dense := fourier.NewFFT(finer*len(x)).Sequence(nil, z)
	y := make([]float64, frames)
	for i := range y {
		t := float64(i) / testRate
		at := d.start + d.speed*t - float64(first)/rate
		for j, hz := range []float64{0.55, 4.3, 8.7} {
			share := []float64{0.5, 0.35, 0.15}[j]
			at += share * d.wow / (2 * math.Pi * hz) * math.Sin(2*math.Pi*hz*t+float64(j))
		}
		y[i] = cubic(dense, at*rate*finer) / float64(len(x))
	}
	return y
}

// cubic is Lagrange's polynomial through the four nearest points.
func cubic(x []float64, at float64) float64 {
	i := int(math.Floor(at))
	if i < 1 || i+2 >= len(x) {
		return 0
	}
	t := at - float64(i)
	return -x[i-1]*t*(t-1)*(t-2)/6 + x[i]*(t+1)*(t-1)*(t-2)/2 - x[i+1]*(t+1)*t*(t-2)/2 + x[i+2]*(t+1)*t*(t-1)/6
}

// hissUnder returns the rms of white noise that is db below the signal's power between 6
// and 14 kHz.
func hissUnder(x []float64, db float64) float64 {
	z := fourier.NewFFT(len(x)).Coefficients(nil, x)
	var treble float64
	for k := range z {
		if hz := float64(k) / float64(len(x)) * testRate; hz >= 6000 && hz < 14000 {
			treble += 2 * (real(z[k])*real(z[k]) + imag(z[k])*imag(z[k]))
		}
	}
	treble /= float64(len(x)) * float64(len(x))
	return math.Sqrt(treble * math.Pow(10, -db/10) / 8000 * testRate / 2)
}

// held is sound as a source of blocks.
type held struct {
	rate int
	x    stereo
	at   int
}

func (h *held) Rate() int    { return h.rate }
func (h *held) Close() error { return nil }

func (h *held) Next(context.Context) (audio.Block, error) {
	end := min(h.at+1024, len(h.x[0]))
	if h.at == end {
		return audio.Block{}, io.EOF
	}
	b := audio.Block{Start: int64(h.at), Left: h.x[0][h.at:end], Right: h.x[1][h.at:end]}
	h.at = end
	return b, nil
}

func loaded(t testing.TB, x stereo) *Reference { return loadedAt(t, testRate, x) }

func loadedAt(t testing.TB, rate int, x stereo) *Reference {
	t.Helper()
	ref, err := Load(context.Background(), func(context.Context) (audio.Source, error) {
		return &held{rate: rate, x: x}, nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return ref
}

func matched(t testing.TB, ref *Reference, tape stereo) (Result, error) {
	t.Helper()
	m := ref.Match(testRate)
	defer m.Close()
	src := &held{rate: testRate, x: tape}
	for {
		b, err := src.Next(context.Background())
		if err == io.EOF {
			break
		}
		if err := m.Add(context.Background(), b); err != nil {
			t.Fatal(err)
		}
	}
	return m.Result(context.Background())
}

// few returns only the first case if the race detector makes each cost ten times as much,
// a quarter of them with -short, otherwise all.
func few[T any](cases []T) []T {
	if raceDetector {
		return cases[:1]
	}
	if testing.Short() {
		return cases[:(len(cases)+3)/4]
	}
	return cases
}
