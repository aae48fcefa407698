package speed

import "slices"

const (
	deadShare      = 0.01 // a channel with less than this share of the other's power does not count
	holeShare      = 0.25 // a level outside the running one by this share of power, or its inverse, is off
	steadyShare    = 0.8  // least share of the first second in which the level is within 3 dB of its median
	levelSeconds   = 0.5  // time constant of the running level
	guardSeconds   = 0.01 // left out to either side of a hole: the reach of the band limit
	longestSeconds = 0.25 // a longer hole ends the stretch
	settleSeconds  = 1    // left out for flutter at the start; see TestSettledAfterASecond
	echoSeconds    = 0.1  // left out for flutter after a hole: the low-pass reaches back into it
)

// stretch follows one tone without a break.
type stretch struct {
	sound     *demodulator
	filters   *filters
	carrierHz float64
	rate      float64 // points per second
	sums      *sums

	counts [2]bool    // channels
	level  [2]float64 // running power
	start  float64    // deviation that the filters begin with

	now     float64 // seconds, of the newest point
	waiting []point // the newest, which a hole may yet spoil
	hole    int     // points of the hole
	quiet   int     // of these, with the level back
	rejoin  float64 // sum of the newest deviations in the hole's guard
	steady  float64 // running deviation
	settle  int     // points still to be left out for flutter
	over    bool    // the tone has gone
}

func newStretch(rateHz int, carrierHz float64, to *sums) *stretch {
	rate := float64(rateHz) / float64(decimation(rateHz))
	return &stretch{
		sound: newDemodulator(rateHz, carrierHz), filters: newFilters(rate), carrierHz: carrierHz, rate: rate, sums: to,
		settle: int(settleSeconds * rate),
	}
}

// begin takes the first second, which begins at the given seconds, and reports whether it has a steady tone. The channels that
// count and their level come from it, and the mean deviation, with which the filters
// begin: so they do not answer to the speed error as if it were a sudden step.
func (s *stretch) begin(second [2][]float64, seconds float64) bool {
	var points []point
	s.sound.add(second[0], second[1], func(p point) bool { points = append(points, p); return true })
	for c := range 2 {
		powers := make([]float64, len(points))
		for i, p := range points {
			powers[i] = p.power[c]
		}
		slices.Sort(powers)
		s.level[c] = powers[len(powers)/2]
	}
	for c := range 2 {
		s.counts[c] = s.level[c] > 0 && s.level[c] >= deadShare*s.level[1-c]
	}
	near, sum := 0, 0.0
	for _, p := range points {
		if s.within(p, 0.5) {
			near++
			sum += s.deviation(p)
		}
	}
	if !(s.counts[0] || s.counts[1]) || float64(near) < steadyShare*float64(len(points)) {
		return false
	}
	s.now, s.start = seconds, sum/float64(near)
	s.steady = s.start
	for _, p := range points {
		if !s.hear(p) {
			return false
		}
	}
	return true
}

// within reports whether the power of each channel that counts is near its running level:
// above it times share, and below it over share.
func (s *stretch) within(p point, share float64) bool {
	for c, power := range p.power {
		if s.counts[c] && !(power > share*s.level[c] && power*share < s.level[c]) {
			return false
		}
	}
	return true
}

// deviation returns that of the mean phase of the channels that count.
func (s *stretch) deviation(p point) float64 {
	switch s.counts {
	case [2]bool{true, false}:
		return p.deviation[0]
	case [2]bool{false, true}:
		return p.deviation[1]
	}
	return (p.deviation[0] + p.deviation[1]) / 2
}

// hear takes a point, and reports whether the tone goes on.
func (s *stretch) hear(p point) bool {
	guard := int(guardSeconds * s.rate)
	s.now += 1 / s.rate
	switch {
	case !s.within(p, holeShare):
		s.hole += len(s.waiting) + 1
		s.waiting, s.quiet, s.rejoin = s.waiting[:0], 0, 0
	case s.hole > 0:
		s.hole++
		if s.quiet++; s.quiet > guard/2 {
			s.rejoin += s.deviation(p) / float64(guard-guard/2)
		}
		if s.quiet == guard {
			s.fill()
		}
	default:
		if s.waiting = append(s.waiting, p); len(s.waiting) > guard {
			s.take(s.waiting[0])
			s.waiting = s.waiting[:copy(s.waiting, s.waiting[1:])]
		}
	}
	s.over = float64(s.hole) > longestSeconds*s.rate
	return !s.over
}

// fill feeds the filters a straight line through a hole that has ended.
func (s *stretch) fill() {
	for i := range s.hole {
		x := (float64(i) + 0.5) / float64(s.hole)
		s.filters.next(s.steady + x*(s.rejoin-s.steady) - s.start)
	}
	s.settle = max(s.settle-s.hole, int(echoSeconds*s.rate))
	s.steady = s.rejoin
	s.hole, s.quiet, s.rejoin = 0, 0, 0
	s.sums.dropouts++
}

// take counts a point.
func (s *stretch) take(p point) {
	for c, power := range p.power {
		s.level[c] += (power - s.level[c]) / (levelSeconds * s.rate)
	}
	deviation := s.deviation(p)
	s.steady += (deviation - s.steady) / (guardSeconds / 2 * s.rate)
	s.sums.tone(s.carrierHz*(1+deviation), p.power, s.now)
	weighted, unweighted := s.filters.next(deviation - s.start)
	if s.settle > 0 {
		s.settle--
		return
	}
	s.sums.flutter(weighted, unweighted)
}
