package known

import (
	"math"

	"gonum.org/v1/gonum/dsp/fourier"
)

// The fingerprint: the power of both channels together in a few wide bands, 50 times a
// second. The bands are wide, so that three per cent of speed, half a semitone, moves
// little from band to band. Powers do not depend on phase or tilt.
const (
	printsPerSecond = 50
	printBands      = 8
	printLowHz      = 150.0
	printHighHz     = 6000.0
	printFloor      = 0.003 // re the band's mean: below this is silence
	printReach      = 25    // frames to either side in the running mean
)

// features are logarithms of band powers minus their running mean, by frame.
type features [printBands][]float64

func (f *features) frames() int { return len(f[0]) }

// printer makes a fingerprint of sound that comes in blocks.
type printer struct {
	rate   int
	window []float64
	fft    *fourier.FFT
	edges  [printBands + 1]int
	kept   stereo
	start  int64 // of the kept sound
	powers [printBands][]float32
	framed []float64
	bins   []complex128
}

func newPrinter(rate int) *printer {
	n := frameLength(rate)
	p := &printer{rate: rate, window: hann(n), fft: fourier.NewFFT(n),
		framed: make([]float64, n), bins: make([]complex128, n/2+1)}
	for i := range p.edges {
		hz := printLowHz * math.Pow(printHighHz/printLowHz, float64(i)/printBands)
		p.edges[i] = min(n/2, int(math.Round(hz/float64(rate)*float64(n))))
	}
	return p
}

func (p *printer) add(left, right []float64) {
	p.kept[0] = append(p.kept[0], left...)
	p.kept[1] = append(p.kept[1], right...)
	for {
		next := int64(len(p.powers[0])) * int64(p.rate) / printsPerSecond
		from := int(next - p.start)
		if from+len(p.window) > len(p.kept[0]) {
			break
		}
		p.frame(from)
	}
	done := int64(len(p.powers[0]))*int64(p.rate)/printsPerSecond - p.start
	if done > 1<<16 {
		p.kept.drop(int(done))
		p.start += done
	}
}

func (p *printer) frame(from int) {
	var sums [printBands]float64
	for c := range 2 {
		for i, w := range p.window {
			p.framed[i] = w * p.kept[c][from+i]
		}
		p.bins = p.fft.Coefficients(p.bins, p.framed)
		for b := range printBands {
			for _, z := range p.bins[p.edges[b]:p.edges[b+1]] {
				sums[b] += power(z)
			}
		}
	}
	for b, s := range sums {
		p.powers[b] = append(p.powers[b], float32(s))
	}
}

func (p *printer) features() (f features) {
	for b, powers := range p.powers {
		var mean float64
		for _, v := range powers {
			mean += float64(v) / float64(len(powers))
		}
		f[b] = make([]float64, len(powers))
		for i, v := range powers {
			f[b][i] = math.Log10(float64(v) + printFloor*mean + 1e-30)
		}
		lessRunningMean(f[b])
	}
	return f
}

// lessRunningMean subtracts the mean of its neighbours from each value.
func lessRunningMean(x []float64) {
	for i, m := range runningMean(x, printReach) {
		x[i] -= m
	}
}
