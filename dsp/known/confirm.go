package known

import (
	"context"
	"math"
	"slices"

	"gonum.org/v1/gonum/dsp/fourier"
)

const (
	confirmBlocks = 16
	confirmLong   = 4 // frame lengths in a block
	confirmLowHz  = 200.0
	confirmHighHz = 2000.0
	confirmReach  = 0.05   // seconds to either side of a candidate
	confirmSlope  = 0.002  // relative speed to either side, in steps of
	confirmStep   = 0.0001 //
	confirmCell   = 0.0005 // seconds grouped together
	confirmWow    = 3      // cells by which wow may lead or lag
)

// confirm tests candidates on the samples themselves and returns the best, with refined
// position and speed. Blocks of the tape are correlated with the reference by their
// phases alone (generalised cross-correlation, phase transform: Knapp and Carter 1976).
// Then confirm finds the straight line of lag against time with the most support from all
// blocks. The score is the mean height of the correlation on that line: 1 for the same
// sound, about 0.1 by chance.
func (r *Reference) confirm(ctx context.Context, tape stereo, tapeRate int, candidates []place) (place, error) {
	byPlace := slices.Clone(candidates)
	slices.SortFunc(byPlace, func(a, b place) int { return int(math.Copysign(1, a.at-b.at)) })
	src, err := r.reader(ctx)
	if err != nil {
		return place{}, err
	}
	defer src.close()
	c := newConfirmer(tape, tapeRate)
	var best place
	for _, p := range byPlace {
		from := int64(math.Floor(p.at)) - taps
		to := from + int64(p.ratio*float64(len(tape[0]))) + 3*taps
		ref, err := src.window(ctx, from, to)
		if err != nil {
			return place{}, err
		}
		if better := c.improve(p, ref, float64(from)); better.score > best.score {
			best = better
		}
	}
	return best, nil
}

type confirmer struct {
	tape   stereo
	rate   int
	window []float64
	fft    *fourier.FFT
	cell   int // frames in a cell of lags
	cells  int // to either side
	starts []int
	padded []float64
	bins   [2][]complex128
	lagged []float64
}

func newConfirmer(tape stereo, rate int) *confirmer {
	n := confirmLong * frameLength(rate)
	c := &confirmer{tape: tape, rate: rate, window: hann(n), fft: fourier.NewFFT(2 * n),
		cell: max(1, int(confirmCell*float64(rate))), padded: make([]float64, 2*n), lagged: make([]float64, 2*n)}
	c.cells = int(confirmReach*float64(rate)) / c.cell
	room := len(tape[0]) - n
	for i := range confirmBlocks {
		c.starts = append(c.starts, room*i/(confirmBlocks-1))
	}
	return c
}

// improve finds the line through the blocks for one candidate. ref is the reference from
// frame from on.
func (c *confirmer) improve(p place, ref stereo, from float64) place {
	resample := newResampler(p.ratio)
	heights := make([][]float64, len(c.starts))
	for b, start := range c.starts {
		piece := newStereo(len(c.window))
		for i := range c.window {
			piece[0][i], piece[1][i] = resample.at(ref, p.at-from+p.ratio*float64(start+i))
		}
		heights[b] = c.correlate(start, piece)
	}
	middle := float64(c.starts[len(c.starts)-1]) / 2
	var bestLag, bestSlope, best float64
	for slope := -confirmSlope; slope < confirmSlope+confirmStep/2; slope += confirmStep {
		for cell := -c.cells; cell <= c.cells; cell++ {
			lag := float64(cell * c.cell)
			var sum float64
			for b, start := range c.starts {
				at := (lag + slope*(float64(start)-middle)) / float64(c.cell)
				if i := int(math.Round(at)) + c.cells; i >= 0 && i < len(heights[b]) {
					sum += heights[b][i]
				}
			}
			if sum > best {
				best, bestLag, bestSlope = sum, lag, slope
			}
		}
	}
	return place{
		at:    p.at + p.ratio*(bestLag-bestSlope*middle),
		ratio: p.ratio * (1 + bestSlope),
		score: best / float64(len(c.starts)),
	}
}

// correlate returns the phase correlation of one block against the same part of the
// reference, by cells of lag: the largest value of each cell and of those within reach of
// wow. It is the mean of the magnitudes of both channels, so an inverted channel counts
// too.
func (c *confirmer) correlate(start int, piece stereo) []float64 {
	frames := make([]float64, (2*c.cells+1)*c.cell)
	hz := float64(c.rate) / float64(len(c.padded))
	low, high := int(confirmLowHz/hz), int(confirmHighHz/hz)
	for ch := range 2 {
		for side, x := range [2][]float64{c.tape[ch][start:], piece[ch]} {
			for i, w := range c.window {
				c.padded[i] = w * x[i]
			}
			clear(c.padded[len(c.window):])
			c.bins[side] = c.fft.Coefficients(c.bins[side], c.padded)
		}
		whiten(c.bins[0], c.bins[1], low, high)
		c.fft.Sequence(c.lagged, c.bins[0])
		n := len(c.lagged)
		for i := range frames {
			// A real sequence sums each bin and its mirror: 2 (high-low) at most.
			lag := i - len(frames)/2
			frames[i] += math.Abs(c.lagged[(lag+n)%n]) / float64(4*(high-low))
		}
	}
	var cells []float64
	for at := 0; at < len(frames); at += c.cell {
		cells = append(cells, slices.Max(frames[at:at+c.cell]))
	}
	return widened(cells, confirmWow)
}

// widened replaces each value by the largest within reach to either side.
func widened(x []float64, reach int) []float64 {
	out := make([]float64, len(x))
	for i := range x {
		out[i] = slices.Max(x[max(0, i-reach):min(len(x), i+reach+1)])
	}
	return out
}
