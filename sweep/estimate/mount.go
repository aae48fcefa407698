package estimate

import "math"

// Mount models how the head follows the jig; it is fitted to all places and turns of a
// run. The screw follows the jig except for the backlash, and the delay is linear in the
// screw. The sound of a turning screw arrives late by the lag of the pipeline.
type Mount struct {
	Line
	// backlashDeg is the backlash between jig and screw.
	backlashDeg, backlashSDDeg float64
	// lagSeconds is the delay from the reported jig motion to its sound.
	lagSeconds, lagSDSeconds float64
	// settling is the part of the lag due to the head following its screw, seconds.
	settling float64
	// Wander is the tilt's change that the screw does not cause, arcmin.
	Wander posterior
}

// SlackAllowanceDeg is how far the blade in its slot and the drive in its backlash may
// turn before the screw must follow.
const SlackAllowanceDeg = 35

// LagDeg is half of the backlash allowed for: a screw that arrives against the home side
// lags by LagDeg, plus or minus LagDeg.
const LagDeg = 8

// Search limits of backlash and lag.
const (
	mostBacklashDeg = 40.0
	mostLagSeconds  = 0.6
	// leastLagSeconds is below zero, though sound cannot arrive early: a bound close to a
	// short lag would bias the mean of the lag, and of the backlash with it.
	leastLagSeconds = -0.05
)

// leastPointSD is the least standard deviation of the tilt in a short stretch, arcmin.
const leastPointSD = 0.02

// settlings are candidate time constants of a head that follows its screw, seconds;
// usualSettling is the prior standard deviation. At a reversal, a head that follows
// slowly sounds different from sound that arrives late; only reversals separate backlash
// from lag. Common practice, no source.
var settlings = []float64{0, 0.003, 0.006, 0.012, 0.024, 0.048}

const usualSettling = 0.02

// FitMount fits line, backlash and lag to the usable points from the first at which the
// slack was taken up on either side. side is the home direction.
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

// takenUp returns the first point at which the slack is taken up: one that arrived from
// the home side, or one after a turn the other way that is longer than any slack.
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

// mountFit is the state of a mount fit.
type mountFit struct {
	points       []Point
	side         float64
	turns        bool      // there are turns, hence a lag
	bothSides    bool      // there are usable points from the other side
	away         bool      // the first point was reached against the home direction
	hearing                // of usable points only
	x            []float64 // tilts of the usable points, arcmin
	screw        []float64
	usedIdx      []int
	trajectories []*trajectory // for each turning point, its turn
	cell         float64       // seconds of a stretch of a turn
	// settling is the time constant with which the head follows its screw, seconds.
	settling float64
	white    *regression
	// jig has the positions of the jig for sound that is jigLate seconds late: subCells for
	// each point of a turn.
	jig     []float64
	jigLate float64
}

func newMountFit(ps []Point, side float64) *mountFit {
	s := &mountFit{points: ps, side: side, trajectories: trajectoriesOf(ps), cell: usualStretch(ps),
		jig: make([]float64, len(ps)*subCells), jigLate: math.NaN()}
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

// cost returns the weighted sum of squares plus the priors for a backlash and a lag, with
// the line fitted.
func (s *mountFit) cost(m *Mount, backlash, lag float64) float64 {
	s.follow(backlash, lag)
	line, rss := s.white.on(s.screw)
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

// wander returns the posterior of the wander for the current backlash and lag.
func (s *mountFit) wander() posterior {
	return newPosterior(usualWander, func(d drift) float64 {
		return newWhitener(d, s.hearing).restrictedMisfit(s.screw, s.x)
	})
}

// search finds backlash and lag on a coarse, then on a finer grid.
func (s *mountFit) search(m *Mount, wander drift) {
	s.white = newWhitener(wander, s.hearing).regression(s.x)
	backlashes, lags := []float64{0}, []float64{0}
	if s.bothSides {
		backlashes = grid(0, mostBacklashDeg, 3)
	}
	if s.turns {
		lags = grid(0, mostLagSeconds, 0.03)
	}
	least := math.Inf(1)
	look := func() {
		for _, lag := range lags { // the outer: its jig positions serve for all backlashes
			for _, backlash := range backlashes {
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

// about returns the settlings to try in a search of that step: first all candidates, then
// those next to the best.
func about(best, step float64) []float64 {
	if step > 0.1 {
		return settlings
	}
	beside := 1 + 6*step // 1.4, then 1.1
	return []float64{best / beside, best * beside}
}

// soften widens the standard deviation of outliers, after Huber with k = 2, so that a
// drop-out does not bias the line.
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
