package dsp

import "math"

// Constants of the two ballistics. peakSeconds makes the quasi-peak meter read a burst of 5 ms
// 2 dB low; fallDB in fallSeconds is its return. needleRadPerS and needleDamping make the needle
// reach 99 % in 0.3 s and overshoot by 1.25 %.
const (
	peakSeconds   = 0.0013
	fallDB        = 20.0
	fallSeconds   = 1.7
	needleRadPerS = 13.51
	needleDamping = 0.8127
)

// Ballistics is one channel on two programme meters, sample by sample: a quasi-peak meter (IEC
// 60268-10, type I: integration 5 ms, return 20 dB in 1.7 s) and a volume indicator (IEC
// 60268-17: 99 % after 0.3 s, overshoot 1 to 1.5 %). Begin with NewBallistics.
type Ballistics struct {
	attack, fall, step float64
	peak               float64 // of the quasi-peak meter, full scale 1
	needle, speed      float64 // of the volume indicator: rectified mean, and per second
}

// NewBallistics returns the meters of a channel at rest.
func NewBallistics(rateHz int) *Ballistics {
	rate := float64(rateHz)
	return &Ballistics{attack: 1 - math.Exp(-1/(rate*peakSeconds)), fall: math.Pow(10, -fallDB/20/fallSeconds/rate), step: 1 / rate}
}

// Add passes samples to the meters.
func (b *Ballistics) Add(x []float64) {
	for _, v := range x {
		v = math.Abs(v)
		if v > b.peak {
			b.peak += (v - b.peak) * b.attack
		} else {
			b.peak *= b.fall
		}
		force := needleRadPerS * (needleRadPerS*(v-b.needle) - 2*needleDamping*b.speed)
		b.speed += force * b.step
		b.needle += b.speed * b.step
	}
}

// QuasiPeak is what the quasi-peak meter shows, re the peak of a full-scale sine.
func (b *Ballistics) QuasiPeak() Decibels { return amplitude(b.peak) }

// Volume is what the volume indicator shows: the rectified mean as the level of a sine that has
// it, re a full-scale sine.
func (b *Ballistics) Volume() Decibels { return amplitude(b.needle * math.Pi / 2) }

func amplitude(of float64) Decibels {
	if of < 1e-10 {
		return NoLevel
	}
	return Decibels(20 * math.Log10(of))
}
