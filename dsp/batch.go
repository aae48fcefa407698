package dsp

import "math"

// batchLimit is how many batches are kept. When they are full, neighbours are merged, so
// that any length of sound needs the same memory and leaves between half the limit and
// the limit.
const batchLimit = 32

// batchFrames is the number of frames in the first batches.
const batchFrames = 2

// batch is the sum over a few consecutive frames that counted.
type batch struct {
	frames      int
	mid, treble [2]float64
	tone        [2]float64            // power near the main tone, noise included
	toneCross   [MostTones]complex128 // conj(left) times right of each tone
	cross       []complex128          // programme: conj(left) times right, by bin
}

func (b *batch) add(o *batch) {
	b.frames += o.frames
	for c := range 2 {
		b.mid[c] += o.mid[c]
		b.treble[c] += o.treble[c]
		b.tone[c] += o.tone[c]
	}
	for i, z := range o.toneCross {
		b.toneCross[i] += z
	}
	for i, z := range o.cross {
		b.cross[i] += z
	}
}

func (b *batch) clear() {
	cross := b.cross
	clear(cross)
	*b = batch{cross: cross}
}

// batches holds the sound up to now in equal pieces, the last one unfinished.
type batches struct {
	list   []batch // all allocated at once
	n      int     // whole ones
	length int     // frames in a whole one
}

func newBatches(bins int) *batches {
	b := &batches{list: make([]batch, batchLimit+1), length: batchFrames}
	for i := range b.list {
		b.list[i].cross = make([]complex128, bins)
	}
	return b
}

func (b *batches) reset() {
	for i := range b.list {
		b.list[i].clear()
	}
	b.n, b.length = 0, batchFrames
}

// current returns the batch for the next frame.
func (b *batches) current() *batch {
	if b.list[b.n].frames >= b.length {
		b.n++
		if b.n == batchLimit {
			b.join()
		}
	}
	return &b.list[b.n]
}

func (b *batches) join() {
	for i := range batchLimit / 2 {
		if i > 0 {
			b.list[i].clear()
			b.list[i].add(&b.list[2*i])
		}
		b.list[i].add(&b.list[2*i+1])
	}
	for i := batchLimit / 2; i < len(b.list); i++ {
		b.list[i].clear()
	}
	b.n, b.length = batchLimit/2, 2*b.length
}

// whole returns the finished batches.
func (b *batches) whole() []batch {
	if b.list[b.n].frames >= b.length {
		return b.list[:b.n+1]
	}
	return b.list[:b.n]
}

// standardError returns the standard error of the mean of a series whose neighbours may
// be correlated: the ordinary one, widened for first-order autoregression by (1+r)/(1-r)
// if the correlation r is significant (its bias corrected by Kendall's E[r] = rho - (1+4
// rho)/n; from memory). Variation slower than the whole series does not show in it.
// UnknownSD below four values.
func standardError(x []float64) float64 {
	n := float64(len(x))
	if n < 4 {
		return UnknownSD
	}
	var mean float64
	for _, v := range x {
		mean += v / n
	}
	var square, lagged float64
	for i, v := range x {
		square += (v - mean) * (v - mean)
		if i > 0 {
			lagged += (v - mean) * (x[i-1] - mean)
		}
	}
	if square == 0 {
		return 0
	}
	variance := square / (n - 1) / n
	r := lagged/square + 1/n
	if r > 1/math.Sqrt(n) {
		r = min(r/(1-4/n), 0.8)
		variance *= (1 + r) / (1 - r)
	}
	return math.Sqrt(variance)
}
