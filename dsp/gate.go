package dsp

import "math"

// Limits for rejecting a frame.
const (
	clipLevel  = 0.9995 // this near full scale ...
	clipRun    = 3      // ... for this many samples in a row is clipped
	zeroRun    = 64     // this many exact zeros in both channels is a hole
	silentDB   = -65.0  // both channels below this is silent
	clickCrest = 16.0   // second difference, peak over rms, of a click
	dropRatio  = 10.0   // a channel's power this far (10 dB) below its recent median ...
	keepRatio  = 3.1623 // ... while the other has fallen by less than this (5 dB)
	recent     = 15     // frames of the recent median
)

// stretch holds the measurements of half a frame in the time domain.
type stretch struct {
	sum, squares, peak     [2]float64
	bendPeak, bendSquares  [2]float64
	clipped, hole          bool
	clippedRun, zeroLength int // runs still going at the end
}

// look scans n samples; before is the stretch before, whose runs continue.
func look(left, right []float64, before stretch) stretch {
	s := stretch{zeroLength: before.zeroLength, clippedRun: before.clippedRun}
	s.scan(0, left)
	s.scan(1, right)
	if max(s.peak[0], s.peak[1]) >= clipLevel {
		s.findClipping(left, right)
	} else {
		s.clippedRun = 0
	}
	s.findHole(left, right)
	return s
}

// scan computes the sums and peaks of one channel.
func (s *stretch) scan(c int, x []float64) {
	var sum, squares, peak, bendSquares, bendPeak float64
	last, slope := 2*x[0]-x[1], x[1]-x[0] // starts with no bend
	for _, v := range x {
		square, rise := v*v, v-last
		bend := (rise - slope) * (rise - slope)
		last, slope = v, rise
		sum += v
		squares += square
		bendSquares += bend
		if square > peak {
			peak = square
		}
		if bend > bendPeak {
			bendPeak = bend
		}
	}
	s.sum[c], s.squares[c], s.peak[c] = sum, squares, math.Sqrt(peak)
	s.bendPeak[c], s.bendSquares[c] = bendPeak, bendSquares
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

// silent reports whether both channels of a frame, given as two stretches of n samples
// each, are below the threshold after removal of any offset.
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

// click reports whether a single sharp bend stands out of a frame.
func click(a, b stretch, n int) bool {
	for c := range 2 {
		mean := (a.bendSquares[c] + b.bendSquares[c]) / float64(2*n)
		if max(a.bendPeak[c], b.bendPeak[c]) > clickCrest*clickCrest*mean {
			return true
		}
	}
	return false
}

// dropouts watches one power per channel from frame to frame: the treble of a programme,
// or the tone.
type dropouts struct {
	history [2][recent]float64
	n       int
}

// fell takes the newest powers and reports whether one channel has just dropped out. A
// tone may drop out in both at once. A programme falls silent in both by itself, so there
// that does not count.
func (d *dropouts) fell(power [2]float64, tone bool) bool {
	var down, kept [2]bool
	for c := range 2 {
		now := max(power[c], leastPower)
		down[c] = d.medianAbove(c, now*dropRatio)
		kept[c] = !d.medianAbove(c, now*keepRatio)
		d.history[c][d.n%recent] = now
	}
	d.n++
	if tone && (down[0] || down[1]) {
		return true
	}
	return down[0] && kept[1] || down[1] && kept[0]
}

// medianAbove reports whether the median of the recent powers is above a power; false
// before there are five.
func (d *dropouts) medianAbove(c int, power float64) bool {
	n := min(d.n, recent)
	above := 0
	for _, p := range d.history[c][:n] {
		if p > power {
			above++
		}
	}
	return n >= 5 && 2*above >= n
}
