package capture

import (
	"math"
	"time"
)

const (
	lossWindow    = 250 * time.Millisecond
	lossThreshold = 40 * time.Millisecond // a smaller loss cannot be distinguished from jitter
	lossPlateau   = 10 * time.Millisecond // lateness that falls by less than this has stopped falling
	lossDrift     = 0.25                  // how fast the normal lateness follows, per window
)

// lossClock finds samples that never arrived. Sound servers do not report them, so
// arrivals are compared with the monotonic clock: lateness is the frames due by the clock
// minus the frames that came. A stall makes it jump. Delayed sound comes in a burst and
// brings it back. Dropped sound does not come, and lateness settles above its old value.
// The normal lateness follows slowly, since no sound card runs at exactly its rate.
type lossClock struct {
	rate  float64
	begun bool
	start time.Duration
	due   float64 // frames accounted for, arrived or lost
	usual float64 // normal lateness, in frames
	late  float64 // lateness now

	lowest, before float64 // least lateness in this window and in the last
	windowEnd      time.Duration
	resting        int // number of windows with steady lateness above the threshold
}

// arrive takes the time at which frames arrived and returns how many were lost before
// them. It detects a loss half a second later or more; until then behind is above zero.
func (c *lossClock) arrive(at time.Duration, frames int) (lost int64) {
	if !c.begun {
		*c = lossClock{rate: c.rate, begun: true, start: at - c.duration(float64(frames))}
		c.newWindow(at)
	}
	c.due += float64(frames)
	c.late = (at-c.start).Seconds()*c.rate - c.due
	c.usual = min(c.usual, c.late)
	c.lowest = min(c.lowest, c.late)
	if at < c.windowEnd {
		return 0
	}
	excess := c.lowest - c.usual
	switch {
	case excess < c.frames(lossThreshold):
		c.usual += lossDrift * excess
		c.resting = 0
	case c.lowest < c.before-c.frames(lossPlateau):
		c.resting = 0
	default:
		c.resting++
	}
	if c.resting >= 2 {
		lost = int64(math.Round(excess))
		c.due += float64(lost)
		c.late -= float64(lost)
		c.lowest -= float64(lost)
		c.resting = 0
	}
	c.before = c.lowest
	c.newWindow(at)
	return lost
}

// behind returns by how many frames the newest arrival lags behind the clock, beyond the
// normal lateness: delayed or lost. Zero within the threshold.
func (c *lossClock) behind() int {
	if excess := c.late - c.usual; excess > c.frames(lossThreshold) {
		return int(excess)
	}
	return 0
}

func (c *lossClock) newWindow(at time.Duration) {
	c.lowest, c.windowEnd = math.Inf(1), at+lossWindow
}

func (c *lossClock) frames(d time.Duration) float64 { return d.Seconds() * c.rate }

func (c *lossClock) duration(frames float64) time.Duration {
	return time.Duration(frames / c.rate * float64(time.Second))
}
