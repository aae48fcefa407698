package dsp

import "math"

// What Lines tells lies between these, hertz: mains and its harmonics lie below, and the
// least of what a spectrum has above.
const (
	linesLowHz  = 200
	linesHighHz = 20000
	linesMidHz  = 5000 // a programme has most of its power below, hiss above
)

// Lines is what the mean spectrum of both channels together says of what is played: one
// tone, a programme, or hiss.
type Lines struct {
	power       []float64
	binHz       float64
	first, last int
}

// Lines returns the spectrum of all sound that counted since Reset.
func (m *Meter) Lines() Lines {
	l := Lines{power: make([]float64, len(m.spectrum[0])), binHz: m.binHz}
	for k := range l.power {
		l.power[k] = m.spectrum[0][k] + m.spectrum[1][k]
	}
	l.first = int(math.Ceil(linesLowHz / l.binHz))
	l.last = min(int(linesHighHz/l.binHz), len(l.power)-2)
	return l
}

// between is the power from one frequency to another, bounds included, but for the bins
// near the tones.
func (l Lines) between(low, high float64, but ...float64) (sum float64) {
	for k := max(l.first, int(math.Ceil(low/l.binHz))); k <= min(l.last, int(high/l.binHz)); k++ {
		if !l.near(k, but) {
			sum += l.power[k]
		}
	}
	return sum
}

// near says that a bin belongs to a tone: toneSearch off at most, and Hann's main lobe.
func (l Lines) near(k int, tones []float64) bool {
	for _, hz := range tones {
		if math.Abs(float64(k)*l.binHz-hz) <= toneSearch*hz+toneLeast*l.binHz {
			return true
		}
	}
	return false
}

// Strongest is the strongest line, and its share of all power; 0 where there is no sound.
// Between two bins it is told as tone.peak says.
func (l Lines) Strongest() (hz, share float64) {
	best := l.first
	for k := l.first; k <= l.last; k++ {
		if l.power[k] > l.power[best] {
			best = k
		}
	}
	all := l.between(0, linesHighHz)
	if all == 0 {
		return 0, 0
	}
	side, direction := l.power[best-1], -1.0
	if l.power[best+1] > side {
		side, direction = l.power[best+1], 1
	}
	a := math.Sqrt(side / l.power[best])
	hz = (float64(best) + direction*max(0, min(1, (2*a-1)/(a+1)))) * l.binHz
	reach := max(toneWidth*hz, toneLeast*l.binHz)
	return hz, l.between(hz-reach, hz+reach) / all
}

// Programme is by how much the sound apart from the tones is more than the tones, and by how
// much more of it lies below 5 kHz than above: music and speech have most there, hiss less.
func (l Lines) Programme(tones ...float64) (overTones, lowOverHigh Decibels) {
	low, high := l.between(0, linesMidHz, tones...), l.between(linesMidHz, linesHighHz, tones...)
	theirs := l.between(0, linesHighHz) - low - high
	return decibels(low+high) - decibels(theirs), decibels(low) - decibels(high)
}

// Clear is by how much a tone stands above what lies to both sides of it.
func (l Lines) Clear(hz float64) Decibels {
	best := 0.0
	low, high := int(hz*(1-toneSearch)/l.binHz), int(math.Ceil(hz*(1+toneSearch)/l.binHz))
	for k := max(1, low); k <= min(high, len(l.power)-1); k++ {
		best = max(best, l.power[k])
	}
	var beside float64
	var n int
	for i := 1; i <= toneBesides; i++ {
		for _, k := range []int{low - toneLeast - i, high + toneLeast + i} {
			if k > 0 && k < len(l.power) {
				beside += l.power[k]
				n++
			}
		}
	}
	return decibels(best) - decibels(beside/float64(max(1, n)))
}
