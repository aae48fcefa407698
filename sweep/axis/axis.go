// Package axis puts the sound and the jig's time on one time axis.
//
// The sound counts samples, the jig counts microseconds, and neither has access to the
// other. The host's clock times both: a block of sound arrives at an instant, and a
// status of the jig lies between the instants of its request and of its reply. Each of
// the two is therefore a line against the host's time h, in seconds,
//
//	h = offset + (1 + rate) t
//
// with t the samples divided by their rate, or the jig's seconds. Delivery only adds
// delay. So the line of the sound is the lower envelope of the arrivals, and the line of
// the jig lies below all replies and above all requests. Delays are taken to be
// exponential; the likeliest rate then has the least sum of delays over an envelope that
// no point crosses (Moon, Skelly and Towsley, "Estimation and removal of clock skew from
// network delay measurements", IEEE INFOCOM 1999). Quartz clocks keep their rate within
// some ten parts per million; the prior of the rate is zero with a standard deviation of
// 200 ppm (common practice, no source).
//
// Range: any length of run; the rate comes from the last ten minutes. The remaining
// unknown is constant: the delay of the sound in deck, converter and buffers, and the
// difference between the fastest reply and the fastest request. A run measures it as its
// lag. Failure modes: if all sound is late, it is taken to be on time; uncounted lost
// samples shift the sound against the jig, and LateSeconds reports it as late thereafter.
//
// It does not depend on what is heard or what the jig turns.
package axis

import (
	"math"
	"time"
)

// Axis is the time axis of one run. Its zero value is not ready; see New.
type Axis struct {
	rate       float64 // frames per second
	epoch      time.Time
	sound, jig side
	late       float64 // seconds, of the last block
}

// New returns the axis for sound of a rate, in frames per second.
func New(rate int) *Axis { return &Axis{rate: float64(rate)} }

// Sound records the arrival of a block; end is the number of the sample after its last
// one. After a loss, whose size is uncertain, the line of the sound starts anew.
func (a *Axis) Sound(end int64, arrived time.Time, lost bool) {
	if lost {
		a.sound = side{}
	}
	t, h := float64(end)/a.rate, a.host(arrived)
	a.sound.below(t, h)
	a.late = h - a.sound.line().at(t)
}

// Jig records a status: the jig's microseconds lie between the instants asked and heard.
// asked may be zero if the jig sent it unasked.
func (a *Axis) Jig(micros uint64, asked, heard time.Time) {
	t := float64(micros) / 1e6
	a.jig.below(t, a.host(heard))
	if !asked.IsZero() {
		a.jig.above(t, a.host(asked))
	}
}

// Ready reports whether both clocks have been seen.
func (a *Axis) Ready() bool { return a.sound.ready() && a.jig.ready() }

// Micros returns the jig's time at which a punctual sample arrives, in microseconds.
func (a *Axis) Micros(sample int64) float64 {
	h := a.sound.line().at(float64(sample) / a.rate)
	return 1e6 * a.jig.line().back(h)
}

// Sample returns the number of the punctual sample that arrives at the jig's time.
func (a *Axis) Sample(micros float64) int64 {
	h := a.jig.line().at(micros / 1e6)
	return int64(math.Ceil(a.sound.line().back(h) * a.rate))
}

// LateSeconds returns how much later than the fastest the last block arrived.
func (a *Axis) LateSeconds() float64 { return a.late }

// Fit is the accuracy of the two clocks.
type Fit struct {
	// RatePPM is how fast the jig's clock is relative to the sound's, parts per million,
	// RateSDPPM its standard uncertainty.
	RatePPM, RateSDPPM float64
	// ReplySeconds is the interval between the latest request and the earliest reply: the
	// jig's offset is uncertain within it, but constant.
	ReplySeconds float64
}

// Fit returns the present accuracy of the two clocks.
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
