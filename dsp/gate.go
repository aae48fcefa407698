package dsp

import (
	"math"
	"slices"
)

// What a frame is thrown out for.
const (
	clipLevel  = 0.9995 // this near full scale ...
	clipRun    = 3      // ... for so many samples in a row is clipped
	zeroRun    = 64     // so many exact zeros in both channels is a hole
	silentDB   = -65.0  // both channels below is silent
	clickCrest = 16.0   // second difference, peak over rms, of a click
	dropDB     = 10.0   // a channel's fall below its recent median ...
	keepDB     = 5.0    // ... while the other has fallen by less than this
	recent     = 15     // frames that make the recent median
)

// stretch is what a plain look at half a frame of samples shows.
type stretch struct {
	sum, squares, peak     [2]float64
	bendPeak, bendSquares  [2]float64
	clipped, hole          bool
	clippedRun, zeroLength int // runs still going at the end
}

// look scans n samples; before is the stretch ahead of it, whose runs go on.
func look(left, right []float64, before stretch) stretch {
	s := stretch{zeroLength: before.zeroLength, clippedRun: before.clippedRun}
	for c, x := range [2][]float64{left, right} {
		var sum, squares, peak, bendPeak, bendSquares float64
		for i, v := range x {
			sum += v
			squares += v * v
			peak = max(peak, math.Abs(v))
			if i >= 2 {
				bend := v - 2*x[i-1] + x[i-2]
				bend *= bend
				bendSquares += bend
				bendPeak = max(bendPeak, bend)
			}
		}
		s.sum[c], s.squares[c], s.peak[c] = sum, squares, peak
		s.bendPeak[c], s.bendSquares[c] = bendPeak, bendSquares
	}
	if max(s.peak[0], s.peak[1]) >= clipLevel {
		s.findClipping(left, right)
	} else {
		s.clippedRun = 0
	}
	s.findHole(left, right)
	return s
}

func (s *stretch) findClipping(left, right []float64) {
	for i := range left {
		if math.Abs(left[i]) < clipLevel && math.Abs(right[i]) < clipLevel {
			s.clippedRun = 0
			continue
		}
		s.clippedRun++
		s.clipped = s.clipped || s.clippedRun >= clipRun
	}
}

func (s *stretch) findHole(left, right []float64) {
	for i := range left {
		if left[i] != 0 || right[i] != 0 {
			s.zeroLength = 0
			continue
		}
		s.zeroLength++
		s.hole = s.hole || s.zeroLength >= zeroRun
	}
}

// silent says that both channels of a frame, given as its two stretches of n
// samples each, lie below the threshold once any offset is taken off.
func silent(a, b stretch, n int) bool {
	for c := range 2 {
		mean := (a.sum[c] + b.sum[c]) / float64(2*n)
		square := (a.squares[c]+b.squares[c])/float64(2*n) - mean*mean
		if decibels(2*square) > silentDB {
			return false
		}
	}
	return true
}

// click says that a single sharp bend stands out of a frame.
func click(a, b stretch, n int) bool {
	for c := range 2 {
		mean := (a.bendSquares[c] + b.bendSquares[c]) / float64(2*n)
		if max(a.bendPeak[c], b.bendPeak[c]) > clickCrest*clickCrest*mean {
			return true
		}
	}
	return false
}

// dropouts watches one level per channel from frame to frame: the treble of a
// programme, or the tone.
type dropouts struct {
	history [2][recent]float64
	n       int
}

// fell takes the newest powers and says whether one channel has just dropped
// out. A tone may drop out on both at once; of a programme, which falls silent
// in both by itself, that cannot be told.
func (d *dropouts) fell(power [2]float64, tone bool) bool {
	var fall [2]float64
	for c := range 2 {
		level := float64(decibels(power[c]))
		if d.n >= 5 {
			fall[c] = d.median(c) - level
		}
		d.history[c][d.n%recent] = level
	}
	d.n++
	if tone && max(fall[0], fall[1]) > dropDB {
		return true
	}
	return max(fall[0], fall[1]) > dropDB && min(fall[0], fall[1]) < keepDB
}

func (d *dropouts) median(c int) float64 {
	sorted := d.history[c]
	known := sorted[:min(d.n, recent)]
	slices.Sort(known)
	return known[len(known)/2]
}
