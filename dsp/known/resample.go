package known

import "math"

// The interpolation kernel: a sinc under a Kaiser window (Kaiser 1974, by way of
// Oppenheim and Schafer, Discrete-Time Signal Processing, 7.6; from memory). With 48 taps
// and beta 8 the ripple is about 80 dB down; resample_test.go states the upper frequency.
const (
	taps       = 48
	kaiserBeta = 8.0
	phases     = 512 // positions between two frames; the kernel is linear in between
	passband   = 0.9 // middle of the cut-off, of half the lower rate
)

// resampler evaluates a sound between its samples.
type resampler struct {
	table [phases + 2][taps]float64
}

// newResampler makes a resampler for steps of step frames. Above 1, which makes the sound
// faster, it removes frequencies that would alias.
func newResampler(step float64) *resampler {
	r := &resampler{}
	cut := passband / math.Max(1, step)
	for i := range r.table {
		shift := float64(i) / phases
		var sum float64
		for k := range taps {
			x := float64(k-taps/2+1) - shift
			r.table[i][k] = cut * sinc(cut*x) * kaiser(x/(taps/2))
			sum += r.table[i][k]
		}
		for k := range taps {
			r.table[i][k] /= sum
		}
	}
	return r
}

func sinc(x float64) float64 {
	if math.Abs(x) < 1e-9 {
		return 1
	}
	return math.Sin(math.Pi*x) / (math.Pi * x)
}

func kaiser(x float64) float64 {
	if math.Abs(x) >= 1 {
		return 0
	}
	return bessel0(kaiserBeta*math.Sqrt(1-x*x)) / bessel0(kaiserBeta)
}

// bessel0 is the modified Bessel function of order zero, by its power series.
func bessel0(x float64) float64 {
	sum, term := 1.0, 1.0
	for k := 1.0; term > 1e-17*sum; k++ {
		term *= x * x / (4 * k * k)
		sum += term
	}
	return sum
}

// at returns both channels' values at a position, counted from the first sample. Beyond
// the ends it returns silence.
func (r *resampler) at(x stereo, position float64) (left, right float64) {
	whole := math.Floor(position)
	first := int(whole) - taps/2 + 1
	if first < 0 || first+taps > len(x[0]) {
		return 0, 0
	}
	fine := (position - whole) * phases
	i := int(fine)
	share := fine - float64(i)
	low, high := &r.table[i], &r.table[i+1]
	l, rr := x[0][first:first+taps], x[1][first:first+taps]
	for k := range taps {
		w := low[k] + share*(high[k]-low[k])
		left += w * l[k]
		right += w * rr[k]
	}
	return left, right
}
