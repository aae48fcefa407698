package known

// sums are the basis of all figures: sums over frames of spectra under a Hann window, by
// channel and bin (Welch's method).
type sums struct {
	frames int
	cross  [2][]complex128 // of tape times conj(reference)
	tape   [2][]float64    // of the tape's power
	ref    [2][]float64    // of the reference's
}

func newSums(bins int) *sums {
	s := &sums{}
	for c := range 2 {
		s.cross[c] = make([]complex128, bins)
		s.tape[c], s.ref[c] = make([]float64, bins), make([]float64, bins)
	}
	return s
}

func (s *sums) clear() {
	s.frames = 0
	for c := range 2 {
		clear(s.cross[c])
		clear(s.tape[c])
		clear(s.ref[c])
	}
}

// addFrame adds one frame; turn removes the residual lag of its reference, bin by bin.
func (s *sums) addFrame(tape, ref [2][]complex128, turn []complex128) {
	s.frames++
	for c := range 2 {
		for k, t := range tape[c] {
			r := ref[c][k]
			s.cross[c][k] += t * complex(real(r), -imag(r)) * turn[k]
			s.tape[c][k] += power(t)
			s.ref[c][k] += power(r)
		}
	}
}

// add adds the sums of o, times sign: -1 subtracts them.
func (s *sums) add(o *sums, sign float64) {
	s.frames += int(sign) * o.frames
	for c := range 2 {
		for k := range s.cross[c] {
			s.cross[c][k] += complex(sign, 0) * o.cross[c][k]
			s.tape[c][k] += sign * o.tape[c][k]
			s.ref[c][k] += sign * o.ref[c][k]
		}
	}
}

// effective returns the number of independent frames that equals n overlapping ones: 1/(1
// + 2(1/6)²) for Hann at half overlap (Welch 1967, Harris 1978).
func effective(n int) float64 { return max(1.5, float64(n)/(1+2.0/36)) }

// shared returns the tape's power at a bin that is coherent with the reference, and the
// rest per independent frame: noise and all else that the reference lacks. The coherence
// by chance is subtracted, so shared may be below zero.
func (s *sums) shared(c, k int) (shared, noise float64) {
	if s.ref[c][k] == 0 {
		return 0, s.tape[c][k] / effective(s.frames)
	}
	shared = power(s.cross[c][k]) / s.ref[c][k]
	noise = max(0, s.tape[c][k]-shared) / (effective(s.frames) - 1)
	return shared - noise, noise
}

const (
	batchLimit  = 32
	batchFrames = 8 // in the first batches
)

// batches holds the sums in pieces of equal length. When all are full, neighbours are
// merged, so that memory does not grow with the tape.
type batches struct {
	list   []*sums
	n      int // begun
	length int
}

func newBatches(bins int) *batches {
	b := &batches{length: batchFrames, n: 1}
	for range batchLimit {
		b.list = append(b.list, newSums(bins))
	}
	return b
}

// current returns the batch for the next frame.
func (b *batches) current() *sums {
	if b.list[b.n-1].frames >= b.length {
		if b.n == batchLimit {
			b.join()
		}
		b.n++
	}
	return b.list[b.n-1]
}

func (b *batches) join() {
	for i := range batchLimit / 2 {
		joined := b.list[2*i]
		joined.add(b.list[2*i+1], 1)
		b.list[i], b.list[2*i] = joined, b.list[i]
	}
	for _, s := range b.list[batchLimit/2:] {
		s.clear()
	}
	b.n, b.length = batchLimit/2, 2*b.length
}

// total returns the sum of all batches.
func (b *batches) total() *sums {
	s := newSums(len(b.list[0].tape[0]))
	for _, one := range b.list[:b.n] {
		s.add(one, 1)
	}
	return s
}
