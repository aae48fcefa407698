package speed

import "math"

// Bins of a spread: 64 to an octave, from 1e-9 up to about 1.
const (
	spreadLeast  = 1e-9
	spreadOctave = 64
	spreadBins   = 30 * spreadOctave
)

// spread counts how often a size occurs, in bins 1.1 % wide.
type spread struct {
	bins [spreadBins]int64
	n    int64
}

func (s *spread) add(x float64) {
	x = math.Abs(x)
	i := 0
	if x > spreadLeast {
		i = min(int(spreadOctave*math.Log2(x/spreadLeast)), spreadBins-1)
	}
	s.bins[i]++
	s.n++
}

// exceeded returns the size that a share of all values exceeds, interpolated within its bin.
func (s *spread) exceeded(share float64) float64 {
	left := share * float64(s.n)
	for i := spreadBins - 1; i >= 0; i-- {
		if here := float64(s.bins[i]); here >= left && here > 0 {
			return spreadLeast * math.Exp2((float64(i+1)-left/here)/spreadOctave)
		} else {
			left -= here
		}
	}
	return 0
}
