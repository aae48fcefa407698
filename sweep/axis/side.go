package axis

import (
	"math"

	"gonum.org/v1/gonum/stat"
)

const (
	binSeconds = 1.0
	mostBins   = 600
	// usualRate is the prior standard deviation of a clock's rate.
	usualRate = 200e-6
	mostRate  = 1000e-6
	// leastDelay is the least mean delay assumed, in seconds: timers are no better.
	leastDelay = 50e-6
)

// side is one clock against the host's: in each second the points nearest to its line. A
// point is t and the host's time minus t.
type side struct {
	bins  []bin
	known line
	// fresh reports that known fits the bins. It is fitted anew once a second, and as
	// soon as a point crosses it.
	fresh bool
}

type bin struct {
	number            int64
	over, under       point // the line lies below over and above under
	hasOver, hasUnder bool
}

type point struct{ t, ahead float64 }

// line is a clock's line; room is the interval between its limits if it has both.
type line struct{ offset, rate, rateSD, room float64 }

func (l line) at(t float64) float64   { return t + l.offset + l.rate*t }
func (l line) back(h float64) float64 { return (h - l.offset) / (1 + l.rate) }

// below records a point that the line lies below.
func (s *side) below(t, h float64) {
	b, p := s.bin(t), point{t, h - t}
	if !b.hasOver || p.ahead < b.over.ahead {
		s.fresh = s.fresh && b.hasOver && h >= s.known.at(t)+s.known.room/2-leastDelay
		b.over, b.hasOver = p, true
	}
}

// above records a point that the line lies above.
func (s *side) above(t, h float64) {
	b, p := s.bin(t), point{t, h - t}
	if !b.hasUnder || p.ahead > b.under.ahead {
		s.fresh = s.fresh && b.hasUnder && h <= s.known.at(t)-s.known.room/2+leastDelay
		b.under, b.hasUnder = p, true
	}
}

func (s *side) bin(t float64) *bin {
	number := int64(math.Floor(t / binSeconds))
	if n := len(s.bins); n == 0 || s.bins[n-1].number < number {
		if n == mostBins {
			s.bins = append(s.bins[:0], s.bins[1:]...)
		}
		s.bins = append(s.bins, bin{number: number})
		s.fresh = false
	}
	return &s.bins[len(s.bins)-1]
}

func (s *side) ready() bool { return len(s.bins) > 0 }

// line returns the likeliest line.
func (s *side) line() line {
	if !s.fresh && s.ready() {
		s.known, s.fresh = s.fit(), true
	}
	return s.known
}

func (s *side) fit() line {
	var over, under []point
	for _, b := range s.bins {
		if b.hasOver {
			over = append(over, b.over)
		}
		if b.hasUnder {
			under = append(under, b.under)
		}
	}
	rate, scale := 0.0, 0.0
	for range 3 {
		n := float64(len(over) + len(under))
		scale = math.Max(leastDelay, delays(over, under, rate)/n)
		rate = least(func(r float64) float64 {
			return delays(over, under, r)/scale + r*r/(2*usualRate*usualRate)
		})
	}
	low, _ := envelope(over, rate, 1)
	l := line{offset: low, rate: rate, rateSD: rateSD(over, scale)}
	if len(under) > 0 {
		high, _ := envelope(under, rate, -1)
		l.offset, l.room = (low+high)/2, low-high
	}
	return l
}

// delays returns the sum of all delays over their envelopes.
func delays(over, under []point, rate float64) float64 {
	_, a := envelope(over, rate, 1)
	_, b := envelope(under, rate, -1)
	return a + b
}

// envelope returns the offset of the line with a given rate that touches the points from
// below (sign +1) or above (-1), and the sum of their distances from it.
func envelope(ps []point, rate, sign float64) (offset, sum float64) {
	touch := math.Inf(1)
	for _, p := range ps {
		touch = math.Min(touch, sign*(p.ahead-rate*p.t))
	}
	for _, p := range ps {
		sum += sign*(p.ahead-rate*p.t) - touch
	}
	return sign * touch, sum
}

// rateSD returns the standard deviation of a rate: that of a least-squares line through
// points with the scatter of the delays, combined with the prior.
func rateSD(ps []point, scale float64) float64 {
	t := make([]float64, len(ps))
	for i, p := range ps {
		t[i] = p.t
	}
	tells := 1 / (usualRate * usualRate)
	if n := float64(len(t)); n > 1 {
		tells += n * stat.PopVariance(t, nil) / (scale * scale)
	}
	return 1 / math.Sqrt(tells)
}

// least returns the rate with the least cost, which is convex, by golden section.
func least(cost func(rate float64) float64) float64 {
	const golden, within = 0.6180339887498949, 0.05e-6
	lo, hi := -mostRate, mostRate
	a, b := hi-golden*(hi-lo), lo+golden*(hi-lo)
	ca, cb := cost(a), cost(b)
	for hi-lo > within {
		if ca < cb {
			hi, b, cb = b, a, ca
			a = hi - golden*(hi-lo)
			ca = cost(a)
		} else {
			lo, a, ca = a, b, cb
			b = lo + golden*(hi-lo)
			cb = cost(b)
		}
	}
	return (lo + hi) / 2
}
