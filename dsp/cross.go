package dsp

// The delay of a programme is measured at these frequencies, in hertz: from below the
// treble that any tilt leaves, up to the top of a cassette's band.
const (
	phaseLowHz  = 300.0
	phaseHighHz = 14000.0
)

// spread is the number of cells of frame and bin per independent cell, with Hann frames
// that overlap by half: the sum of |correlation|² over neighbours in time and frequency,
// 1 + 2(4/9 + 1/36) along the bins and a little for the overlap (calculated; Harris 1978
// gives 1/6 for the overlap).
const spread = 2.0

// effective returns the number of independent frames that equals n overlapping ones: 1/(1
// + 2(1/6)²) for Hann at half overlap (Welch 1967, Harris 1978).
func effective(n int) float64 { return float64(n) / (1 + 2.0/36) }

// crossSpectrum holds sums over frames for the bins of the phase band. The powers are the
// meter's own, of all counted frames, and shared with it.
type crossSpectrum struct {
	frames      int
	sum         []complex128 // of z = conj(left) right
	square      []complex128 // of z²
	size        []float64    // of |z|²
	left, right []float64    // of the powers
}

func newCrossSpectrum(left, right []float64) *crossSpectrum {
	bins := len(left)
	return &crossSpectrum{
		sum: make([]complex128, bins), square: make([]complex128, bins), size: make([]float64, bins),
		left: left, right: right,
	}
}

func (c *crossSpectrum) clear() {
	c.frames = 0
	clear(c.sum)
	clear(c.square)
	clear(c.size)
}

// frame adds one frame from the bin first on, here and to the batch.
func (c *crossSpectrum) frame(s *spectra, first int, batch []complex128) {
	c.frames++
	sum, square, size := c.sum, c.square[:len(c.sum)], c.size[:len(c.sum)]
	left, right, batch := s.left[first:][:len(sum)], s.right[first:][:len(sum)], batch[:len(sum)]
	for k := range sum {
		z := crossed(left[k], right[k])
		a, b := real(z)*real(z), imag(z)*imag(z)
		sum[k] += z
		square[k] += complex(a-b, 2*real(z)*imag(z))
		size[k] += a + b
		batch[k] += z
	}
}

// crossed returns conj(x) y: its phase is that of y against x.
func crossed(x, y complex128) complex128 {
	return complex(real(x)*real(y)+imag(x)*imag(y), real(x)*imag(y)-imag(x)*real(y))
}

func (c *crossSpectrum) add(o *crossSpectrum) {
	c.frames += o.frames
	for k := range c.sum {
		c.sum[k] += o.sum[k]
		c.square[k] += o.square[k]
		c.size[k] += o.size[k]
	}
}

// crosswise returns the sum over frames of the squared part of z perpendicular to the
// given unit vector: the contribution of noise to a phase.
func (c *crossSpectrum) crosswise(k int, unit complex128) float64 {
	turned := c.square[k] * unit * unit
	return max(0, 0.5*(c.size[k]-real(turned)))
}
