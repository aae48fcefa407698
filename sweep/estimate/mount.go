package estimate

import "math"

// Mount is how the head follows the jig, by all places and turns of a run: the
// screw follows the jig but for the backlash, and the delay follows the screw by a
// line. What is heard lags behind a turning screw by the pipeline.
type Mount struct {
	Line
	// backlashDeg is the backlash between jig and screw.
	backlashDeg, backlashSDDeg float64
	// lagSeconds is how much later than the jig's word a turn is heard.
	lagSeconds, lagSDSeconds float64
	// settling is the part of the lag with which the head follows its screw, seconds.
	settling float64
	// Wander is what the tilt did by itself, arcmin.
	Wander posterior
}

// SlackAllowanceDeg is how far a blade may turn in its slot, and the drive in
// its backlash, before the screw must follow.
const SlackAllowanceDeg = 35

// LagDeg is half of the backlash that is reckoned with: how far a screw that
// arrives against the home side lags behind, give or take as much.
const LagDeg = 8

// Limits within which backlash and lag are looked for.
const (
	mostBacklashDeg = 40.0
	mostLagSeconds  = 0.6
	// leastLagSeconds lies below zero, though sound does not come early: a bound
	// right beside a short lag would push its mean away, and the backlash's with it.
	leastLagSeconds = -0.05
)

// leastPointSD is the least uncertainty believed of a tilt in a short stretch,
// arcmin.
const leastPointSD = 0.02

// settlings are the time constants with which a head may follow its screw, seconds, and
// usualSettling is how large they are. At a reversal a head that follows so is heard
// otherwise than one whose sound comes late, and only reversals part backlash and lag.
// Common practice, no source.
var settlings = []float64{0, 0.003, 0.006, 0.012, 0.024, 0.048}

const usualSettling = 0.02

// FitMount fits line, backlash and lag to the usable points after the first at which
// the slack was taken up on either side; side is the home direction.
func FitMount(ps []Point, side float64) Mount {
	first, away := takenUp(ps, side)
	if first < 0 {
		return Mount{Wander: priorWander()}
	}
	ps = ps[first:]
	s := newMountFit(ps, side)
	s.away = away
	m := Mount{Wander: priorWander()}
	if len(s.x) < 2 || Spread(ps) < 5 {
		return m
	}
	wander := usualWander
	for range 2 {
		s.search(&m, wander)
		m.Wander = s.wander()
		wander = m.Wander.mode()
		s.soften(wander.Rms, s.residuals(m))
	}
	s.marginalise(&m, wander)
	m.OK = m.Credible(Spread(ps))
	return m
}

// takenUp is the first point at which the slack is taken up: one that arrived
// from the home side, or one that a turn the other way has reached beyond any
// slack.
func takenUp(ps []Point, side float64) (first int, away bool) {
	from := 0
	for i, p := range ps {
		switch {
		case p.Home:
			return i, false
		case !p.turning || i > 0 && (p.Deg-ps[i-1].Deg)*side > 0:
			from = i
		case (ps[from].Deg-p.Deg)*side > SlackAllowanceDeg:
			return i, true
		}
	}
	return -1, false
}

// mountFit is the fit of a mount under way.
type mountFit struct {
	points       []Point
	side         float64
	turns        bool      // there are turns, so that there is a lag
	bothSides    bool      // there are usable points from the other side
	away         bool      // the first point was reached against the home direction
	hearing                // of usable ones only
	x            []float64 // of those, as screw
	screw        []float64
	usedIdx      []int
	trajectories []*trajectory // of each point that turns, the turn that it is part of
	cell         float64       // seconds of a stretch of a turn
	// settling is the time constant with which the head follows its screw, seconds.
	settling float64
	white    *whitener
}

func newMountFit(ps []Point, side float64) *mountFit {
	s := &mountFit{points: ps, side: side, trajectories: trajectoriesOf(ps), cell: usualStretch(ps)}
	for i, p := range ps {
		s.turns = s.turns || p.turning
		s.bothSides = s.bothSides || p.ByX && !p.Home
		if p.ByX {
			s.usedIdx = append(s.usedIdx, i)
			s.add(p.At, p.Seconds, math.Max(p.XSD, leastPointSD))
			s.x = append(s.x, p.X)
		}
	}
	s.screw = make([]float64, len(s.x))
	return s
}

// cost is the weighted sum of squares for a backlash and a lag, the line fitted.
func (s *mountFit) cost(m *Mount, backlash, lag float64) float64 {
	s.follow(backlash, lag)
	line, rss := s.white.regress(s.screw, s.x)
	m.Line = line
	if s.bothSides {
		rss += math.Pow((backlash-UsualBacklashDeg)/UsualBacklashSDDeg, 2)
	}
	if s.turns {
		rss += math.Pow((lag-usualLagSeconds)/usualLagSDSeconds, 2)
		rss += square(s.settling / usualSettling)
	}
	return rss
}

// wander judges what the tilt did by itself, for the backlash and lag that are set.
func (s *mountFit) wander() posterior {
	return newPosterior(usualWander, func(d drift) float64 {
		return newWhitener(d, s.hearing).restrictedMisfit(s.screw, s.x)
	})
}

// search finds backlash and lag, coarsely and then finely.
func (s *mountFit) search(m *Mount, wander drift) {
	s.white = newWhitener(wander, s.hearing)
	backlashes, lags := []float64{0}, []float64{0}
	if s.bothSides {
		backlashes = grid(0, mostBacklashDeg, 3)
	}
	if s.turns {
		lags = grid(0, mostLagSeconds, 0.03)
	}
	least := math.Inf(1)
	look := func() {
		for _, backlash := range backlashes {
			for _, lag := range lags {
				if cost := s.cost(m, backlash, lag); cost < least {
					least, m.backlashDeg, m.lagSeconds, m.settling = cost, backlash, lag, s.settling
				}
			}
		}
	}
	for step := 1.0; step > 0.01; step /= 4 {
		look()
		if s.bothSides {
			backlashes = grid(math.Max(0, m.backlashDeg-3*step), m.backlashDeg+3*step, 0.75*step)
		}
		if s.turns {
			lags = grid(math.Max(leastLagSeconds, m.lagSeconds-0.03*step), m.lagSeconds+0.03*step, 0.0075*step)
		}
		if step < 1 && s.bothSides && s.turns {
			for _, s.settling = range about(m.settling, step) {
				look()
			}
			s.settling = m.settling
		}
	}
	s.cost(m, m.backlashDeg, m.lagSeconds)
}

// about are settlings to look into in a search of that step: all usual ones, then those
// beside the best.
func about(best, step float64) []float64 {
	if step > 0.1 {
		return settlings
	}
	beside := 1 + 6*step // 1.4, then 1.1
	return []float64{best / beside, best * beside}
}

// soften widens what stands far out, after Huber with k = 2, so that a drop-out
// does not tilt the line.
func (s *mountFit) soften(rms float64, res []float64) {
	const k = 2
	for i, r := range res {
		if far := math.Abs(r) / math.Hypot(rms, s.sd[i]); far > k {
			s.sd[i] = math.Max(s.sd[i], rms) * math.Sqrt(far/k) * 1.5
		}
	}
}

func grid(from, to, step float64) []float64 {
	var g []float64
	for v := from; v <= to+step/2; v += step {
		g = append(g, v)
	}
	return g
}

func (s *mountFit) residuals(m Mount) []float64 {
	r := make([]float64, len(s.x))
	for i := range r {
		r[i] = s.x[i] - m.At0 - m.PerDeg*s.screw[i]
	}
	return r
}
