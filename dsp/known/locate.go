package known

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/dsp/fourier"
)

const (
	// FurthestSpeed is the greatest relative difference of the tape's speed from the
	// reference's.
	FurthestSpeed = 0.03
	// Speeds are tried this far out, so that a tape beyond the limit is reported as such,
	// in steps that displace the ends of 20 s by at most 12.5 ms.
	triedSpeed = 0.06
	speedStep  = 0.0025

	candidateCount = 4
	apartPrints    = 10 // candidates nearer than this are one
)

// place is the position of the tape's frame 0 in the reference, and the frames of the
// reference per frame of tape.
type place struct {
	at, ratio float64
	score     float64 // 0 to 1
}

// candidates returns the most likely places of a piece of tape, best first, by normalised
// cross-correlation of the fingerprints at each speed.
func (r *Reference) candidates(tape features, tapeRate int) []place {
	search := newSearch(&r.print, int(float64(tape.frames())*(1+triedSpeed))+1)
	var found []place
	for i := -triedSpeed; i < triedSpeed+speedStep/2; i += speedStep {
		for _, hit := range search.at(&tape, 1+i) {
			found = append(found, place{
				at:    float64(hit.lag) / printsPerSecond * float64(r.rate),
				ratio: (1 + i) * float64(r.rate) / float64(tapeRate),
				score: hit.score,
			})
		}
	}
	slices.SortStableFunc(found, func(a, b place) int { return cmp.Compare(b.score, a.score) })
	apart := apartPrints * float64(r.rate) / printsPerSecond
	var best []place
	for _, p := range found {
		near := slices.ContainsFunc(best, func(b place) bool { return math.Abs(b.at-p.at) < apart })
		if !near && len(best) < candidateCount {
			best = append(best, p)
		}
	}
	return best
}

// search correlates pieces of tape with one reference.
type search struct {
	frames  int // of the reference
	fft     *fourier.FFT
	bands   [printBands][]complex128
	energy  []float64 // running sum of squares of the reference
	padded  []float64
	other   []complex128
	product []complex128
	result  []float64
}

func newSearch(print *features, longest int) *search {
	n := 1
	for n < print.frames()+longest {
		n *= 2
	}
	s := &search{frames: print.frames(), fft: fourier.NewFFT(n),
		energy: make([]float64, print.frames()+1), padded: make([]float64, n),
		product: make([]complex128, n/2+1), result: make([]float64, n)}
	for i := range print.frames() {
		s.energy[i+1] = s.energy[i]
		for b := range printBands {
			s.energy[i+1] += print[b][i] * print[b][i]
		}
	}
	for b := range printBands {
		clear(s.padded)
		copy(s.padded, print[b])
		s.bands[b] = s.fft.Coefficients(nil, s.padded)
	}
	return s
}

// hit is a lag, in fingerprint frames of the reference, and its correlation.
type hit struct {
	lag   int
	score float64
}

// at returns the highest correlations for one speed, without neighbours.
func (s *search) at(tape *features, speed float64) []hit {
	length := int(float64(tape.frames()-1)*speed) + 1
	clear(s.product)
	var own float64
	for b := range printBands {
		clear(s.padded)
		for j := range length {
			v := between(tape[b], float64(j)/speed)
			s.padded[j] = v
			own += v * v
		}
		s.other = s.fft.Coefficients(s.other, s.padded)
		for k, z := range s.other {
			s.product[k] += s.bands[b][k] * complex(real(z), -imag(z))
		}
	}
	s.fft.Sequence(s.result, s.product)
	return s.peaks(length, own*float64(len(s.result))*float64(len(s.result)))
}

// peaks scans all lags at which at least half of the piece is within the reference.
func (s *search) peaks(length int, own float64) []hit {
	n := len(s.result)
	score := func(lag int) float64 {
		from, to := max(0, lag), min(s.frames, lag+length)
		inside := s.energy[to] - s.energy[from]
		floor := 0.1 * s.energy[s.frames] * float64(length) / float64(s.frames)
		return s.result[(lag+n)%n] / math.Sqrt(own*max(inside, floor)+1e-30)
	}
	var best []hit
	for lag := -length / 2; lag <= s.frames-length/2; lag++ {
		h := hit{lag, score(lag)}
		if len(best) == candidateCount && h.score <= best[candidateCount-1].score {
			continue
		}
		if last := len(best) - 1; last >= 0 {
			i := slices.IndexFunc(best, func(b hit) bool { return lag-b.lag < apartPrints })
			if i >= 0 {
				if h.score <= best[i].score {
					continue
				}
				best = slices.Delete(best, i, i+1)
			}
		}
		best = append(best, h)
		slices.SortFunc(best, func(a, b hit) int { return cmp.Compare(b.score, a.score) })
		best = best[:min(len(best), candidateCount)]
	}
	return best
}

// between interpolates linearly.
func between(x []float64, at float64) float64 {
	i := int(at)
	if i+1 >= len(x) {
		return x[len(x)-1]
	}
	share := at - float64(i)
	return x[i] + share*(x[i+1]-x[i])
}
