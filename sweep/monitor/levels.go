package monitor

import (
	"math"

	"headtrue/dsp/audio"
)

// Limits of clipping, as those of dsp: this near full scale for so many samples in a row.
const (
	clipLevel = 0.9995
	clipRun   = 3
)

// power is the sum over some samples of one channel.
type power struct {
	samples      int64
	sum, squares float64
	peak         float64
	clipped      bool
}

func (p *power) add(o power) {
	p.samples += o.samples
	p.sum += o.sum
	p.squares += o.squares
	p.peak = max(p.peak, o.peak)
	p.clipped = p.clipped || o.clipped
}

// levelDBFS is the level re a full-scale sine without the offset.
func (p power) levelDBFS() *float64 {
	if p.samples == 0 {
		return nil
	}
	n := float64(p.samples)
	return decibels(2 * (p.squares/n - p.sum*p.sum/(n*n)))
}

func (p power) peakDBFS() *float64 { return decibels(p.peak * p.peak) }

// leastPower is that of the dsp package's NoLevel: nothing.
const leastPower = 1e-20

func decibels(power float64) *float64 {
	return known(10*math.Log10(power), power > leastPower)
}

// levels measures every sample of two channels.
type levels struct {
	now [2]power // of the update that is heard
	run [2]int   // samples in a row at full scale
	all [2]power
}

func (l *levels) hear(b audio.Block) {
	l.now[0].hear(b.Left, &l.run[0])
	l.now[1].hear(b.Right, &l.run[1])
}

func (p *power) hear(x []float64, run *int) {
	p.samples += int64(len(x))
	sum, squares, peak := p.sum, p.squares, p.peak
	for _, v := range x {
		sum += v
		squares += v * v
		if v = math.Abs(v); v > peak {
			peak = v
		}
		if v < clipLevel {
			*run = 0
		} else if *run++; *run >= clipRun {
			p.clipped = true
		}
	}
	p.sum, p.squares, p.peak = sum, squares, peak
}

// take returns the sums of the update and begins the next.
func (l *levels) take() [2]power {
	now := l.now
	for c := range l.all {
		l.all[c].add(now[c])
	}
	l.now = [2]power{}
	return now
}
