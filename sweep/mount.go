package sweep

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// mount is how the head follows the jig, by all places and turns of a run: the
// screw follows the jig but for the play, and the delay follows the screw by a
// line. What is heard lags behind a turning screw by the pipeline.
type mount struct {
	line
	// playDeg is the backlash between jig and screw.
	playDeg, playSDDeg float64
	// lagSeconds is how much later than the jig's word a turn is heard.
	lagSeconds, lagSDSeconds float64
	// wander is what the tilt did by itself, arcmin.
	wander beliefs
}

// Limits within which play and lag are looked for.
const (
	mostPlayDeg    = 40.0
	mostLagSeconds = 0.6
)

// leastPointSD is the least uncertainty believed of a tilt in a short stretch,
// arcmin.
const leastPointSD = 0.02

// usualWander is what is expected of the tape's skew before anything was
// measured: 600 microradians peak to peak are typical (AES e-library 3710). What
// makes it is round and turns, hubs the slowest; little of it is slower than one
// turn of those in a few seconds (common practice, no source).
var usualWander = drift{rms: 1, seconds: 0.1, returns: 1.6}

// anyWander is what the wander may be, before anything was measured.
var anyWander = judge(usualWander, func(drift) float64 { return 0 })

// What is expected of play and lag before anything was measured.
const (
	usualPlayDeg, usualPlaySDDeg       = 8.0, 12.0
	usualLagSeconds, usualLagSDSeconds = 0.1, 0.15
)

// fitMount fits line, play and lag to the usable points after the first at which
// the slack was taken up on either side; side is the home direction.
func fitMount(ps []point, side float64) mount {
	first, away := takenUp(ps, side)
	if first < 0 {
		return mount{wander: anyWander}
	}
	ps = ps[first:]
	s := newFollowing(ps, side)
	s.away = away
	m := mount{wander: anyWander}
	if len(s.x) < 2 || spread(ps) < 5 {
		return m
	}
	wander := usualWander
	for range 2 {
		s.search(&m, wander)
		m.wander = s.wander()
		wander = m.wander.likeliest()
		s.soften(wander.rms, s.residuals(m))
	}
	s.finish(&m, wander)
	m.ok = m.credible(spread(ps))
	return m
}

// takenUp is the first point at which the slack is taken up: one that arrived
// from the home side, or one that a turn the other way has reached beyond any
// slack.
func takenUp(ps []point, side float64) (first int, away bool) {
	from := 0
	for i, p := range ps {
		switch {
		case p.home:
			return i, false
		case !p.turning || i > 0 && (p.deg-ps[i-1].deg)*side > 0:
			from = i
		case (ps[from].deg-p.deg)*side > slackAllowanceDeg:
			return i, true
		}
	}
	return -1, false
}

// following is the fit of a mount under way.
type following struct {
	points  []point
	side    float64
	turns   bool // there are turns, so that there is a lag
	plays   bool // there are points from the other side
	away    bool // the first point was reached against the home direction
	at, sd  []float64
	x       []float64 // usable ones only, as at and sd
	screw   []float64
	usedIdx []int
	ways    []*way // of each point that turns, the turn that it is part of
	white   *whitener
}

func newFollowing(ps []point, side float64) *following {
	s := &following{points: ps, side: side, ways: waysOf(ps)}
	for i, p := range ps {
		s.turns = s.turns || p.turning
		s.plays = s.plays || !p.home
		if p.byX {
			s.usedIdx = append(s.usedIdx, i)
			s.at, s.sd, s.x = append(s.at, p.at), append(s.sd, math.Max(p.xSD, leastPointSD)), append(s.x, p.x)
		}
	}
	s.screw = make([]float64, len(s.x))
	return s
}

// cost is the weighted sum of squares for a play and a lag, the line fitted.
func (s *following) cost(m *mount, play, lag float64) float64 {
	s.follow(play, lag)
	line, rss := s.regress()
	m.line = line
	if s.plays {
		rss += math.Pow((play-usualPlayDeg)/usualPlaySDDeg, 2)
	}
	if s.turns {
		rss += math.Pow((lag-usualLagSeconds)/usualLagSDSeconds, 2)
	}
	return rss
}

// regress fits the line through the whitened points.
func (s *following) regress() (line, float64) {
	n := len(s.x)
	ones, screw, x := make([]float64, n), make([]float64, n), make([]float64, n)
	for i := range ones {
		ones[i] = 1
	}
	s.white.whiten(ones, ones)
	s.white.whiten(screw, s.screw)
	s.white.whiten(x, s.x)
	var a, b, c, d, e, f float64
	for i := range n {
		a += ones[i] * ones[i]
		b += ones[i] * screw[i]
		c += screw[i] * screw[i]
		d += ones[i] * x[i]
		e += screw[i] * x[i]
		f += x[i] * x[i]
	}
	det := a*c - b*b
	if det <= 0 {
		return line{}, math.Inf(1)
	}
	l := line{ok: true, n: n, at0: (c*d - b*e) / det, perDeg: (a*e - b*d) / det}
	l.v00, l.v01, l.v11 = c/det, -b/det, a/det
	l.ok = l.perDeg != 0
	return l, f - l.at0*d - l.perDeg*e
}

// wander judges what the tilt did by itself, for the play and lag that are set.
// The line takes out a part of it: likelihoods are those of the rest (restricted
// maximum likelihood, Patterson & Thompson, Biometrika 58, 1971).
func (s *following) wander() beliefs {
	return judge(usualWander, func(d drift) float64 {
		s.white = newWhitener(d, s.at, s.sd)
		l, rss := s.regress()
		return s.white.logs + rss - math.Log(l.v00*l.v11-l.v01*l.v01)
	})
}

// search finds play and lag, coarsely and then finely.
func (s *following) search(m *mount, wander drift) {
	s.white = newWhitener(wander, s.at, s.sd)
	plays, lags := []float64{0}, []float64{0}
	if s.plays {
		plays = grid(0, mostPlayDeg, 3)
	}
	if s.turns {
		lags = grid(0, mostLagSeconds, 0.03)
	}
	least := math.Inf(1)
	for step := 1.0; step > 0.01; step /= 4 {
		for _, play := range plays {
			for _, lag := range lags {
				if cost := s.cost(m, play, lag); cost < least {
					least, m.playDeg, m.lagSeconds = cost, play, lag
				}
			}
		}
		if s.plays {
			plays = grid(math.Max(0, m.playDeg-3*step), m.playDeg+3*step, 0.75*step)
		}
		if s.turns {
			lags = grid(math.Max(0, m.lagSeconds-0.03*step), m.lagSeconds+0.03*step, 0.0075*step)
		}
	}
	s.cost(m, m.playDeg, m.lagSeconds)
}

// soften widens what stands far out, after Huber with k = 2, so that a drop-out
// does not tilt the line.
func (s *following) soften(rms float64, res []float64) {
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

func (s *following) residuals(m mount) []float64 {
	r := make([]float64, len(s.x))
	for i := range r {
		r[i] = s.x[i] - m.at0 - m.perDeg*s.screw[i]
	}
	return r
}

// finish takes the covariance of line, play and lag together, from the curvature
// about the solution.
func (s *following) finish(m *mount, wander drift) {
	s.white = newWhitener(wander, s.at, s.sd)
	s.cost(m, m.playDeg, m.lagSeconds)
	if !m.ok {
		return
	}
	m.scatter = scatter(s.residuals(*m))
	columns := s.columns(*m)
	k := len(columns)
	info := mat.NewSymDense(k, nil)
	for i := range k {
		for j := i; j < k; j++ {
			var sum float64
			for r := range columns[i] {
				sum += columns[i][r] * columns[j][r]
			}
			info.SetSym(i, j, sum)
		}
	}
	next := 2
	if s.plays {
		info.SetSym(next, next, info.At(next, next)+1/(usualPlaySDDeg*usualPlaySDDeg))
		next++
	}
	if s.turns {
		info.SetSym(next, next, info.At(next, next)+1/(usualLagSDSeconds*usualLagSDSeconds))
	}
	var chol mat.Cholesky
	if !chol.Factorize(info) {
		return
	}
	var cov mat.SymDense
	if chol.InverseTo(&cov) != nil {
		return
	}
	m.v00, m.v01, m.v11 = cov.At(0, 0), cov.At(0, 1), cov.At(1, 1)
	next = 2
	if s.plays {
		m.playSDDeg = math.Sqrt(cov.At(next, next))
		next++
	}
	if s.turns {
		m.lagSDSeconds = math.Sqrt(cov.At(next, next))
	}
}

// columns are the whitened derivatives of the tilt by the parameters.
func (s *following) columns(m mount) [][]float64 {
	n := len(s.x)
	derive := func(play, lag, step float64) []float64 {
		d := make([]float64, n)
		s.follow(m.playDeg+play, m.lagSeconds+lag)
		up := slices.Clone(s.screw)
		s.follow(math.Max(0, m.playDeg-play), math.Max(0, m.lagSeconds-lag))
		for i := range d {
			d[i] = m.perDeg * (up[i] - s.screw[i]) / step
		}
		return d
	}
	ones := make([]float64, n)
	for i := range ones {
		ones[i] = 1
	}
	s.follow(m.playDeg, m.lagSeconds)
	list := [][]float64{ones, slices.Clone(s.screw)}
	if s.plays {
		const step = 0.2
		list = append(list, derive(step, 0, step+math.Min(step, m.playDeg)))
	}
	if s.turns {
		const step = 0.004
		list = append(list, derive(0, step, step+math.Min(step, m.lagSeconds)))
	}
	for _, c := range list {
		s.white.whiten(c, c)
	}
	s.follow(m.playDeg, m.lagSeconds)
	return list
}
