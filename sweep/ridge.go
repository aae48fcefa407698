package sweep

import (
	"math"
	"slices"
)

// ridgeEnd is how much more than the least a cost may be: beyond that a play is
// not believed at all.
const ridgeEnd = 20.0

// foothold is a play with the lag that fits it best, and the line there.
type foothold struct {
	play, lag, lagVar float64
	cost              float64
	line              line
	weight            float64 // beside that of its cost
}

// finish takes the mean and covariance of line, play and lag over all that may be.
//
// At one speed a lag looks like play: the sound comes from behind the screw either
// way. Only the reversals tell them apart, so that their likelihood is a long ridge,
// bent where the play ends at zero, and far from normal. It is walked along in steps
// of play; across it, lag and line are taken as normal about their best (Laplace's
// method).
func (s *following) finish(m *mount, wander drift) {
	s.white = newWhitener(wander, s.hearing)
	best := s.foothold(m.playDeg, m.lagSeconds)
	if !best.line.ok {
		m.line = line{}
		return
	}
	ridge := []foothold{best}
	if !s.plays && s.turns {
		ridge = s.lags(best)
	}
	if s.plays {
		step := s.ridgeStep(best)
		for _, dir := range []float64{-1, 1} {
			last, slope := best, 0.0
			for play := best.play + dir*step; play >= 0 && play <= mostPlayDeg; play += dir * step {
				next := s.foothold(play, last.lag+slope*step*dir)
				if !next.line.ok || next.cost > best.cost+ridgeEnd {
					break
				}
				slope = (next.lag - last.lag) / (next.play - last.play)
				ridge = append(ridge, next)
				last = next
			}
		}
	}
	m.believe(ridge)
	s.follow(m.playDeg, m.lagSeconds)
	m.scatter = scatter(s.residuals(*m))
}

// lags are footholds over all lags, for turns one way: there a lag only shifts the
// line, all but where the jig changes its speed, so that it may be next to unknown
// and its likelihood far from normal. They lie closer about the best.
func (s *following) lags(best foothold) []foothold {
	const coarse, near = 0.02, 6
	at := grid(leastLagSeconds, mostLagSeconds, coarse)
	if sd := math.Sqrt(best.lagVar); sd > 0 && sd < coarse {
		at = append(at, grid(best.lag-near*sd/2, best.lag+near*sd/2, sd/2)...)
	}
	slices.Sort(at)
	all := make([]foothold, len(at))
	for i, lag := range at {
		all[i] = s.stand(0, lag)
		all[i].weight = (at[min(i+1, len(at)-1)] - at[max(i-1, 0)]) / 2
	}
	return all
}

// ridgeStep is a step that is small against the width of the ridge, degrees.
func (s *following) ridgeStep(best foothold) float64 {
	const try, least, most = 0.5, 0.02, 1.5
	above, below := s.foothold(best.play+try, best.lag), s.foothold(math.Max(0, best.play-try), best.lag)
	rise := math.Max((above.cost+below.cost)/2-best.cost, 1e-3)
	return math.Max(least, math.Min(most, 0.5*try/math.Sqrt(rise)))
}

// stand is the foothold at a play and a lag, both as given.
func (s *following) stand(play, lag float64) foothold {
	var m mount
	cost := s.cost(&m, play, lag)
	f := foothold{play: play, lag: lag, cost: cost, line: m.line, weight: 1}
	if det := m.v00*m.v11 - m.v01*m.v01; det > 0 {
		f.cost -= math.Log(det)
	}
	return f
}

// foothold finds the best lag for a play, from one near it, by parabolas.
func (s *following) foothold(play, lag float64) foothold {
	if !s.turns {
		return s.stand(play, 0)
	}
	var f foothold
	h := 0.008
	for range 5 {
		lag = math.Max(leastLagSeconds, math.Min(mostLagSeconds, lag))
		before, here, after := s.stand(play, lag-h), s.stand(play, lag), s.stand(play, lag+h)
		f = here
		bend := (before.cost - 2*here.cost + after.cost) / (h * h)
		if bend <= 0 {
			break
		}
		f.lagVar = 2 / bend
		f.cost -= math.Log(f.lagVar)
		d0, d1 := (after.line.at0-before.line.at0)/(2*h), (after.line.perDeg-before.line.perDeg)/(2*h)
		f.line.v00 += d0 * d0 * f.lagVar
		f.line.v01 += d0 * d1 * f.lagVar
		f.line.v11 += d1 * d1 * f.lagVar
		slope := (after.cost - before.cost) / (2 * h)
		to := math.Max(leastLagSeconds, lag-math.Max(-0.1, math.Min(0.1, slope/bend)))
		if math.Abs(to-lag) < math.Min(h/2, math.Sqrt(f.lagVar)/4) {
			break
		}
		lag, h = to, math.Max(h/2, 0.001)
	}
	return f
}

// believe takes the mean of what lies along the ridge, and its covariance: that at
// each place and that of the places.
func (m *mount) believe(ridge []foothold) {
	least := math.Inf(1)
	for _, f := range ridge {
		least = math.Min(least, f.cost)
	}
	var all, play, lag, at0, perDeg float64
	weights := make([]float64, len(ridge))
	for i, f := range ridge {
		w := f.weight * math.Exp((least-f.cost)/2)
		weights[i] = w
		all += w
		play, lag = play+w*f.play, lag+w*f.lag
		at0, perDeg = at0+w*f.line.at0, perDeg+w*f.line.perDeg
	}
	m.playDeg, m.lagSeconds = play/all, lag/all
	m.line = line{ok: true, n: ridge[0].line.n, at0: at0 / all, perDeg: perDeg / all}
	var playVar, lagVar float64
	for i, f := range ridge {
		w := weights[i] / all
		d0, d1 := f.line.at0-m.at0, f.line.perDeg-m.perDeg
		m.v00 += w * (f.line.v00 + d0*d0)
		m.v01 += w * (f.line.v01 + d0*d1)
		m.v11 += w * (f.line.v11 + d1*d1)
		playVar += w * square(f.play-m.playDeg)
		lagVar += w * (f.lagVar + square(f.lag-m.lagSeconds))
	}
	m.playSDDeg, m.lagSDSeconds = math.Sqrt(playVar), math.Sqrt(lagVar)
}

func square(x float64) float64 { return x * x }
