// Package axis lays the sound and the jig's time on one axis.
//
// The sound counts samples, the jig counts microseconds, and neither sees the other. Both
// are seen by the host's clock: a block of sound arrives at an instant, and a status of
// the jig lies between the instants of its request and of its reply. Each of the two is
// therefore a line against the host's time h, in seconds,
//
//	h = offset + (1 + rate) t
//
// with t the samples over their rate, or the jig's seconds. Delivery only adds delay, so
// that the line of the sound is the lower envelope of the arrivals, and that of the jig
// lies below all replies and above all requests. Delays are taken to be exponential; the
// likeliest rate then has the least sum of delays over an envelope that no point crosses
// (Moon, Skelly and Towsley, "Estimation and removal of clock skew from network delay
// measurements", IEEE INFOCOM 1999). Quartz clocks keep to a rate within some ten parts
// per million; a rate is held loosely near zero, by 200 ppm (common practice, no source).
//
// Range: any length of run; the rate comes from the last ten minutes. What stays unknown
// is constant: the way of the sound through deck, converter and buffers, and by how much
// the fastest reply and the fastest request differ. A run measures it as its lag.
// Failure modes: sound that is late without exception is taken to be on time; samples
// that were lost without being counted move the sound against the jig, which Late shows
// as sound that is late from then on.
//
// It must not know what is heard or what the jig turns.
package axis

import (
	"math"
	"time"
)

// Axis is one run's axis. Its zero value is not ready; see New.
type Axis struct {
	rate       float64 // frames per second
	epoch      time.Time
	sound, jig side
	late       float64 // seconds, of the last block
}

// New makes the axis for sound of a rate, in frames per second.
func New(rate int) *Axis { return &Axis{rate: float64(rate)} }

// Sound takes the arrival of a block: the number of the sample after its last one. After
// a loss, whose size is not certain, the sound's line begins anew.
func (a *Axis) Sound(end int64, arrived time.Time, lost bool) {
	if lost {
		a.sound = side{}
	}
	t, h := float64(end)/a.rate, a.host(arrived)
	a.sound.below(t, h)
	a.late = h - a.sound.line().at(t)
}

// Jig takes a status: the jig's microseconds lie between two instants. asked may be zero
// if the jig spoke unasked.
func (a *Axis) Jig(micros uint64, asked, heard time.Time) {
	t := float64(micros) / 1e6
	a.jig.below(t, a.host(heard))
	if !asked.IsZero() {
		a.jig.above(t, a.host(asked))
	}
}

// Ready reports whether both clocks have been seen.
func (a *Axis) Ready() bool { return a.sound.ready() && a.jig.ready() }

// Micros is the jig's time at which a sample arrives that is not late, in microseconds.
func (a *Axis) Micros(sample int64) float64 {
	h := a.sound.line().at(float64(sample) / a.rate)
	return 1e6 * a.jig.line().back(h)
}

// Sample is the number of the sample that arrives, if it is not late, at the jig's time.
func (a *Axis) Sample(micros float64) int64 {
	h := a.jig.line().at(micros / 1e6)
	return int64(math.Ceil(a.sound.line().back(h) * a.rate))
}

// LateSeconds is by how much the last block came later than the fastest.
func (a *Axis) LateSeconds() float64 { return a.late }

// Fit says how well the clocks are known.
type Fit struct {
	// RatePPM is by how much the jig's clock is fast against the sound's, parts per
	// million, and its standard uncertainty.
	RatePPM, RateSDPPM float64
	// ReplySeconds is the room between the latest request and the earliest reply: the
	// jig's time is constant within it.
	ReplySeconds float64
}

// Fit is how well the clocks are known now.
func (a *Axis) Fit() Fit {
	s, j := a.sound.line(), a.jig.line()
	return Fit{RatePPM: 1e6 * (s.rate - j.rate), RateSDPPM: 1e6 * math.Hypot(s.rateSD, j.rateSD), ReplySeconds: j.room}
}

func (a *Axis) host(t time.Time) float64 {
	if a.epoch.IsZero() {
		a.epoch = t
	}
	return t.Sub(a.epoch).Seconds()
}
