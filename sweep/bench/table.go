package bench

import (
	"fmt"
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/dsp/fourier"
)

const (
	// tablePad is the length of the loop repeated at either end, so that no reading
	// wraps: 1024 values are 0.25 mm of tape.
	tablePad = 1024
	// highestHz is the upper limit of the programme: no cassette holds more.
	highestHz = 21000
)

// track is one recorded track: the antiderivative of its signal, four values
// per frame, in a loop.
type track struct {
	m []float64 // value i of the loop is m[i+tablePad]
	n int
	// power is the spectrum after the losses, in steps of powerStepHz.
	power []float64
}

// powerStepHz is the width of one step of track.power.
const powerStepHz = 50

// plan is common to the tracks of one programme: the transforms at its own rate and at
// the bench's.
type plan struct {
	frames            int // at the bench's rate
	seconds           float64
	forward, backward *fourier.FFT
}

func newPlan(length, rate int) (*plan, error) {
	frames := length * Rate / rate
	if frames*rate != length*Rate || frames < 1000 {
		return nil, fmt.Errorf("bench: a loop of %d frames at %d Hz is no whole number of at least 1000 frames at %d Hz", length, rate, Rate)
	}
	p := &plan{frames: frames, seconds: float64(length) / float64(rate), forward: fourier.NewFFT(length)}
	p.backward = p.forward
	if frames != length {
		p.backward = fourier.NewFFT(frames)
	}
	return p, nil
}

// track makes the table of a looped signal. The losses of head and tape, and the
// conversion from the signal's own rate, are applied to the spectrum of the whole loop.
func (p *plan) track(signal []float64, loss func(hz float64) complex128) *track {
	coef := p.forward.Coefficients(nil, signal)
	scale := complex(1/float64(len(signal)), 0)
	t := &track{n: p.frames * oversampling, power: make([]float64, highestHz/powerStepHz+1)}
	spectrum := make([]complex128, p.frames/2+1) // of the antiderivative
	for k := 1; k < min(len(coef), len(spectrum)); k++ {
		hz := float64(k) / p.seconds
		if hz > highestHz {
			break
		}
		c := coef[k] * scale * loss(hz)
		t.power[int(hz/powerStepHz)] += 2 * (real(c)*real(c) + imag(c)*imag(c))
		spectrum[k] = c / complex(0, 2*math.Pi*hz/tableRate)
	}
	t.m = make([]float64, t.n+2*tablePad)
	t.fill(spectrum, p.backward)
	return t
}

// fill computes the four phases of the oversampled table, each an exact shift
// of the loop by a quarter of a frame.
func (t *track) fill(spectrum []complex128, backward *fourier.FFT) {
	values := make([]float64, backward.Len())
	turn := cmplx.Rect(1, 2*math.Pi/float64(t.n))
	for phase := range oversampling {
		backward.Sequence(values, spectrum)
		for i, v := range values {
			t.m[tablePad+i*oversampling+phase] = v
		}
		shift := complex(1, 0)
		for k := range spectrum {
			spectrum[k] *= shift
			shift *= turn
		}
	}
	for i := range tablePad {
		t.m[i] = t.m[i+t.n]
		t.m[tablePad+t.n+i] = t.m[tablePad+i]
	}
}

// at returns the antiderivative at a place u in the loop, in table values, by six-point
// Lagrange interpolation: error below -83 dB up to 15 kHz.
func (t *track) at(u float64) float64 {
	i := int(u+tablePad) - 2
	c := u + tablePad - float64(i+2)
	m := t.m[i : i+6 : i+6]
	a, b, d, e, f := c+2, c+1, c-1, c-2, c-3
	ab, ef, cd := a*b, e*f, c*d
	return m[0]*(b*cd*ef)*(-1.0/120) + m[1]*(a*cd*ef)*(1.0/24) + m[2]*(ab*d*ef)*(-1.0/12) +
		m[3]*(ab*c*ef)*(1.0/12) + m[4]*(ab*cd*f)*(-1.0/24) + m[5]*(ab*cd*e)*(1.0/120)
}

// mean returns the mean of the signal from u-half to u+half: the output of a gap tilted
// by that much across the track. A half near 0 is widened until the difference is exact.
func (t *track) mean(u, half float64) float64 {
	const least = 0.01
	if half < least && half > -least {
		half = least
	}
	return (t.at(u+half) - t.at(u-half)) / (2 * half)
}

// bandPower returns the power between two frequencies, multiplied by weight.
func (t *track) bandPower(lowHz, highHz float64, weight func(hz float64) float64) float64 {
	var sum float64
	for i, p := range t.power {
		hz := (float64(i) + 0.5) * powerStepHz
		if p != 0 && hz >= lowHz && hz < highHz {
			sum += p * weight(hz)
		}
	}
	return sum
}
