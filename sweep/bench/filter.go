package bench

import "math"

// biquad is one second-order section, transposed direct form II.
type biquad struct {
	b0, b1, b2, a1, a2 float64
	z1, z2             float64
}

func (f *biquad) next(x float64) float64 {
	y := f.b0*x + f.z1
	f.z1 = f.b1*x - f.a1*y + f.z2
	f.z2 = f.b2*x - f.a2*y
	return y
}

// newHighpass returns a second-order Butterworth high-pass, by the bilinear transform.
func newHighpass(hz float64) *biquad {
	k := math.Tan(math.Pi * hz / Rate)
	n := 1 / (1 + math.Sqrt2*k + k*k)
	return &biquad{b0: n, b1: -2 * n, b2: n, a1: 2 * (k*k - 1) * n, a2: (1 - math.Sqrt2*k + k*k) * n}
}

// newLowpass returns a second-order low-pass with quality factor q.
func newLowpass(hz, q float64) *biquad {
	k := math.Tan(math.Pi * hz / Rate)
	n := 1 / (1 + k/q + k*k)
	return &biquad{b0: k * k * n, b1: 2 * k * k * n, b2: k * k * n, a1: 2 * (k*k - 1) * n, a2: (1 - k/q + k*k) * n}
}

// dulling cuts one channel above 3 kHz: an eighth-order Butterworth low-pass.
type dulling [4]*biquad

func newDulling() dulling {
	var d dulling
	for i := range d {
		d[i] = newLowpass(3000, 1/(2*math.Cos(math.Pi*float64(2*i+1)/16)))
	}
	return d
}

func (d dulling) next(x float64) float64 {
	for _, s := range d {
		x = s.next(x)
	}
	return x
}
