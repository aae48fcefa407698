package dsp

import (
	"math"
	"math/cmplx"
)

const (
	furthestUS = 620.0 // search limit for delays
	finer      = 4     // steps per sample of the first search
	smooth     = 8     // weights are averaged over this many bins to either side
	// trust is the error power, re signal, assumed in every bin besides its noise: a
	// phase error of about 3 degrees that no delay makes.
	trust = 0.0025
	// A second peak of the correlation this high, and this far from the first, is a
	// rival. Set by trial on two pieces of music, 0.3 s at a time and up to 90' of tilt:
	// nearly all wrong delays then have a rival, and few right ones.
	rivalShare = 0.85
	lobeUS     = 40.0
)

// phaseLine finds the delay whose straight phase line best fits a cross-spectrum: a
// coarse search by weighted cross-correlation, which cannot take a wrong period while any
// wide band is coherent, then Gauss-Newton on the line. Weights follow Knapp and Carter
// (IEEE Trans. ASSP 24(4), 1976): coherence over incoherence, γ²/(1-γ²), smoothed over
// bins.
type phaseLine struct {
	binHz  float64
	first  int // bin of the first element
	omega  []float64
	weight []float64
	noise  []float64
	coher  []float64
	turned []complex128
	sums   []float64
	corr   *correlation
}

// line is a fitted delay. Positive means that right comes later.
type line struct {
	seconds   float64
	polarity  float64 // -1 if one channel is inverted
	steepness float64 // Σ w ω² Re: the curvature at the delay
	rival     float64 // seconds from here to a delay that fits nearly as well; 0 if there is none
}

func newPhaseLine(n int, binHz float64, first, bins int) *phaseLine {
	p := &phaseLine{
		binHz: binHz, first: first,
		omega: make([]float64, bins), weight: make([]float64, bins), noise: make([]float64, bins),
		coher: make([]float64, bins), turned: make([]complex128, bins),
		sums: make([]float64, bins), corr: newCorrelation(finer*n, first, bins),
	}
	for i := range p.omega {
		p.omega[i] = 2 * math.Pi * binHz * float64(first+i)
	}
	return p
}

// fit finds the delay. Without anything common to both channels it is zero with steepness
// 0.
func (p *phaseLine) fit(c *crossSpectrum) line {
	p.weigh(c)
	l := p.look(c)
	coarse := l.seconds
	for range 12 {
		p.turn(c, l)
		var across, along float64
		for i, z := range p.turned {
			w := p.weight[i] * p.omega[i]
			across += w * imag(z)
			along += w * p.omega[i] * real(z)
		}
		l.steepness = along
		if along <= 0 {
			return line{polarity: 1}
		}
		step := max(-1e-5, min(1e-5, across/along))
		l.seconds -= step
		if math.Abs(step) < 1e-13 {
			break
		}
	}
	p.turn(c, l)
	if math.Abs(l.seconds-coarse) > lobeUS*1e-6 {
		l.rival = furthestUS * 1e-6 // the line diverges from the peak: neither is reliable
	}
	return l
}

// weigh sets the weight of each bin: coherence over noise, both smoothed.
func (p *phaseLine) weigh(c *crossSpectrum) {
	n := max(effective(c.frames), 1.5)
	var largest float64
	for i, z := range c.sum {
		g := math.Sqrt(c.left[i] * c.right[i])
		p.weight[i] = g
		largest = max(largest, g)
		p.coher[i], p.noise[i] = 0, 0
		if g > 0 {
			p.coher[i] = unbiased(power(z)/(g*g), n)
			p.noise[i] = max(0, (g-power(z)/g)*n/(n-1))
		}
	}
	average(p.coher, p.sums)
	average(p.noise, p.sums)
	chance := 2 / (n * math.Sqrt(smooth)) // coherence by chance
	for i, g := range p.weight {
		p.weight[i] = 0
		if floor := p.noise[i] + trust*g + 1e-12*largest; floor > 0 {
			p.weight[i] = math.Sqrt(max(0, p.coher[i]-chance)) / floor
		}
	}
}

// unbiased subtracts 1/n, the bias of n averages of unrelated noise, from a
// magnitude-squared coherence. The result may be slightly below zero.
func unbiased(squared, n float64) float64 { return (squared - 1/n) / (1 - 1/n) }

// average replaces x by its mean over neighbours. sums is scratch of the same length.
func average(x, sums []float64) {
	var sum float64
	for i, v := range x {
		sum += v
		sums[i] = sum
	}
	for i := range x {
		low, high := i-smooth-1, min(i+smooth, len(x)-1)
		part, n := sums[high], float64(high+1)
		if low >= 0 {
			part, n = part-sums[low], float64(high-low)
		}
		x[i] = part / n
	}
}

// look cross-correlates in steps of a quarter of a sample and takes the largest value of
// either sign. It keeps the furthest of the other peaks nearly as high as the rival.
func (p *phaseLine) look(c *crossSpectrum) line {
	p.corr.of(c.sum, p.weight)
	at := p.corr.at
	step := 1 / (p.binHz * float64(p.corr.n))
	reach := int(furthestUS * 1e-6 / step)
	best := 0
	for i := -reach; i <= reach; i++ {
		if math.Abs(at(i)) > math.Abs(at(best)) {
			best = i
		}
	}
	l := line{seconds: float64(best) * step, polarity: 1}
	if at(best) < 0 {
		l.polarity = -1
	}
	for i := -reach; i <= reach; i++ {
		h, d := math.Abs(at(i)), float64(i-best)*step
		peak := h >= math.Abs(at(i-1)) && h >= math.Abs(at(i+1))
		if peak && h > rivalShare*math.Abs(at(best)) && math.Abs(d) > max(lobeUS*1e-6, math.Abs(l.rival)) {
			l.rival = d
		}
	}
	return l
}

// turn rotates the cross-spectrum back by the line: the result is real if the line fits.
func (p *phaseLine) turn(c *crossSpectrum, l line) {
	unit, step := p.units(l)
	for i, z := range c.sum {
		p.turned[i] = z * unit
		unit *= step
	}
}

// units returns the rotation for the first bin and the rotation from bin to bin.
func (p *phaseLine) units(l line) (first, step complex128) {
	return cmplx.Rect(l.polarity, p.omega[0]*l.seconds), cmplx.Rect(1, 2*math.Pi*p.binHz*l.seconds)
}

// deviation returns the standard error of the delay in seconds. cells is the sandwich
// estimate from the scatter of all cells of frame and bin across the line, without
// assumptions on the programme's power. widened is the scatter of the batches if that is
// clearly greater, as when the delay itself wanders. It must follow fit on the same sums.
func (p *phaseLine) deviation(c *crossSpectrum, whole []batch, l line) (cells, widened float64) {
	if l.steepness <= 0 {
		return UnknownSD * 1e-6, UnknownSD * 1e-6
	}
	unit, step := p.units(l)
	var across float64
	for k := range c.sum {
		w := p.weight[k] * p.omega[k]
		across += w * w * c.crosswise(k, unit)
		unit *= step
	}
	variance := spread * across / (l.steepness * l.steepness)
	cells = math.Sqrt(variance)
	n := float64(len(whole))
	if n < 5 {
		return cells, cells
	}
	slow := p.batchError(whole, l)
	if slow*slow > variance*(1+3*math.Sqrt(2/(n-1))) {
		return cells, slow
	}
	return cells, cells
}

func (p *phaseLine) batchError(whole []batch, l line) float64 {
	var pulls [batchLimit + 1]float64
	for b := range whole {
		unit, step := p.units(l)
		for k, z := range whole[b].cross {
			pulls[b] += p.weight[k] * p.omega[k] * imag(z*unit)
			unit *= step
		}
	}
	for b := range whole {
		pulls[b] *= float64(len(whole)) / l.steepness
	}
	return standardError(pulls[:len(whole)])
}

// coherence returns the mean of the unbiased magnitude-squared coherence over the phase
// band, each bin weighted by frequency times power (about level for music). correlation
// is the signed one up to MidHighHz after removal of the delay: negative if one channel
// is inverted. It must follow fit.
func (p *phaseLine) coherence(c *crossSpectrum, l line) (squared, correlation float64) {
	n := max(effective(c.frames), 1.5)
	var weights, along, leftPower, rightPower float64
	for i, z := range c.sum {
		hz := p.omega[i] / (2 * math.Pi)
		g := math.Sqrt(c.left[i] * c.right[i])
		if g > 0 {
			squared += hz * g * unbiased(power(z)/(g*g), n)
			weights += hz * g
		}
		if hz <= MidHighHz {
			along += real(p.turned[i]) * l.polarity
			leftPower += c.left[i]
			rightPower += c.right[i]
		}
	}
	if weights > 0 {
		squared = max(0, squared/weights)
	}
	if leftPower*rightPower > 0 {
		correlation = along / math.Sqrt(leftPower*rightPower)
	}
	return squared, correlation
}
