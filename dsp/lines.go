package dsp

import "math"

// Range of Lines, hertz: mains and its harmonics are below, and only a small part of a
// spectrum is above.
const (
	linesLowHz  = 200
	linesHighHz = 20000
	linesMidHz  = 5000 // a programme has most of its power below, hiss above
)

// Lines is the mean spectrum of both channels together, which shows what is played: one
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

// between returns the power between two frequencies, bounds included, without the bins
// near the tones but.
func (l Lines) between(low, high float64, but ...float64) (sum float64) {
	for k := max(l.first, int(math.Ceil(low/l.binHz))); k <= min(l.last, int(high/l.binHz)); k++ {
		if !l.near(k, but) {
			sum += l.power[k]
		}
	}
	return sum
}

// near reports whether a bin is within toneSearch and Hann's main lobe of a tone.
func (l Lines) near(k int, tones []float64) bool {
	for _, hz := range tones {
		if math.Abs(float64(k)*l.binHz-hz) <= toneSearch*hz+toneLeast*l.binHz {
			return true
		}
	}
	return false
}

// Strongest returns the strongest line and its share of all power; 0 without sound. It
// interpolates between two bins as tone.peak does.
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

// Programme returns the level of the sound outside the tones over the tones, and of its
// part below 5 kHz over that above: music and speech have most there, hiss less.
func (l Lines) Programme(tones ...float64) (overTones, lowOverHigh Decibels) {
	low, high := l.between(0, linesMidHz, tones...), l.between(linesMidHz, linesHighHz, tones...)
	theirs := l.between(0, linesHighHz) - low - high
	return decibels(low+high) - decibels(theirs), decibels(low) - decibels(high)
}

// Clear returns the level of a tone over the sound to both sides of it.
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
