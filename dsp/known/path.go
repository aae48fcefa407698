package known

import "math"

// Limits of the first search of a segment: the lag that fits, frame by frame.
const (
	pathLowHz   = 200.0
	pathHighHz  = 4000.0
	pathReach   = 0.008 // seconds to either side of the straight line
	pathSteps   = 8     // frames of tape that the lag may change from frame to frame: 0.8 %
	pathStiff   = 0.002 // cost of a change, times its square
	pathAtLeast = 0.15  // mean height of the path: by chance about 0.1
)

// findPath sets the lags to the path through the frames' phase correlations with the
// highest sum and limited bends (dynamic programming), on the channel and polarity that
// fit best. It reports whether there is one.
func (f *follower) findPath() bool {
	reach := int(pathReach * float64(f.rate))
	var heights [][]float64
	var sign, most float64
	for c := range 2 {
		these := f.correlations(c, reach)
		for _, polarity := range []float64{1, -1} {
			if sum := peakSum(these, polarity); sum > most {
				heights, sign, most = these, polarity, sum
			}
		}
	}
	if heights == nil {
		return false
	}
	best, height := highestPath(heights, sign)
	if height < pathAtLeast {
		return false
	}
	for i := range f.lags {
		before, after := best[max(0, i-1)], best[min(len(best)-1, i+1)]
		f.lags[i] = float64(before+2*best[i]+after)/4 - float64(reach)
		f.trusted[i] = true
		f.rest[i] = 0
	}
	return true
}

// peakSum returns the sum of all frames' highest values.
func peakSum(heights [][]float64, sign float64) (sum float64) {
	for _, row := range heights {
		var most float64
		for _, h := range row {
			most = max(most, sign*h)
		}
		sum += most
	}
	return sum
}

// correlations returns the phase correlations of one channel by frame and lag, from
// -reach to +reach frames of tape.
func (f *follower) correlations(c, reach int) [][]float64 {
	hz := float64(f.rate) / float64(f.n)
	low, high := int(pathLowHz/hz), int(pathHighHz/hz)
	all := make([][]float64, len(f.lags))
	for i := range all {
		copy(f.mixed, f.tape[i][c])
		whiten(f.mixed, f.ref[i][c], low, high)
		f.fft.Sequence(f.framed, f.mixed)
		all[i] = make([]float64, 2*reach+1)
		for j := range all[i] {
			all[i][j] = f.framed[(j-reach+f.n)%f.n] / float64(2*(high-low))
		}
	}
	return all
}

// highestPath returns the path and its mean height minus the cost of its bends.
func highestPath(heights [][]float64, sign float64) (path []int, mean float64) {
	width := len(heights[0])
	sum := make([]float64, width)
	next := make([]float64, width)
	from := make([][]int8, len(heights))
	for i, row := range heights {
		from[i] = make([]int8, width)
		for j, h := range row {
			best := math.Inf(-1)
			for d := -pathSteps; d <= pathSteps && i > 0; d++ {
				if k := j + d; k >= 0 && k < width {
					if v := sum[k] - pathStiff*float64(d*d); v > best {
						best, from[i][j] = v, int8(d)
					}
				}
			}
			next[j] = sign * h
			if i > 0 {
				next[j] += best
			}
		}
		sum, next = next, sum
	}
	end := 0
	for j, v := range sum {
		if v > sum[end] {
			end = j
		}
	}
	path = make([]int, len(heights))
	mean = sum[end] / float64(len(heights))
	for i := len(heights) - 1; i >= 0; i-- {
		path[i] = end
		end += int(from[i][end])
	}
	return path, mean
}
