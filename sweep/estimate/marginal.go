package estimate

import (
	"math"
	"slices"
)

// mostCostRise bounds the profile: a backlash whose cost exceeds the least by more is
// ignored.
const mostCostRise = 20.0

// profilePoint is a backlash, the lag that fits it best, and the line for both.
type profilePoint struct {
	backlash, lag, lagVar float64
	cost                  float64
	line                  Line
	weight                float64 // in addition to the weight by cost
}

// marginalise computes the posterior mean and covariance of line, backlash and lag.
//
// At one speed a lag looks like backlash: in both cases the sound lags behind the screw.
// Only the reversals separate them, so the likelihood is a long ridge, bent where the
// backlash ends at zero, and far from normal. The profile follows the ridge in steps of
// backlash; across it, lag and line are taken as normal about their best (Laplace's
// method).
func (s *mountFit) marginalise(m *Mount, wander drift) {
	s.white = newWhitener(wander, s.hearing).regression(s.x)
	best := s.bestAt(m.backlashDeg, m.lagSeconds)
	if !best.line.OK {
		m.Line = Line{}
		return
	}
	profile := []profilePoint{best}
	if !s.bothSides && s.turns {
		profile = s.latencyGrid(best)
	}
	if s.bothSides {
		step := s.profileStep(best)
		for _, dir := range []float64{-1, 1} {
			last, slope := best, 0.0
			for backlash := best.backlash + dir*step; backlash >= 0 && backlash <= mostBacklashDeg; backlash += dir * step {
				next := s.bestAt(backlash, last.lag+slope*step*dir)
				if !next.line.OK || next.cost > best.cost+mostCostRise {
					break
				}
				slope = (next.lag - last.lag) / (next.backlash - last.backlash)
				profile = append(profile, next)
				last = next
			}
		}
	}
	m.takeMoments(profile)
	s.follow(m.backlashDeg, m.lagSeconds)
	m.Scatter = scatter(s.residuals(*m))
}

// latencyGrid returns points over all lags for turns in one direction. There a lag only
// shifts the line, except where the jig changes its speed, so it may be almost unknown
// and its likelihood far from normal. The points are denser around the best.
func (s *mountFit) latencyGrid(best profilePoint) []profilePoint {
	const coarse, near = 0.02, 6
	at := grid(leastLagSeconds, mostLagSeconds, coarse)
	if sd := math.Sqrt(best.lagVar); sd > 0 && sd < coarse {
		at = append(at, grid(best.lag-near*sd/2, best.lag+near*sd/2, sd/2)...)
	}
	slices.Sort(at)
	all := make([]profilePoint, len(at))
	for i, lag := range at {
		all[i] = s.evaluate(0, lag)
		all[i].weight = (at[min(i+1, len(at)-1)] - at[max(i-1, 0)]) / 2
	}
	return all
}

// profileStep returns a backlash step that is small against the ridge's width, degrees.
func (s *mountFit) profileStep(best profilePoint) float64 {
	const try, least, most = 0.5, 0.02, 1.5
	above, below := s.bestAt(best.backlash+try, best.lag), s.bestAt(math.Max(0, best.backlash-try), best.lag)
	rise := math.Max((above.cost+below.cost)/2-best.cost, 1e-3)
	return math.Max(least, math.Min(most, 0.5*try/math.Sqrt(rise)))
}

// evaluate returns the point at a given backlash and lag.
func (s *mountFit) evaluate(backlash, lag float64) profilePoint {
	var m Mount
	cost := s.cost(&m, backlash, lag)
	f := profilePoint{backlash: backlash, lag: lag, cost: cost, line: m.Line, weight: 1}
	if det := m.v00*m.v11 - m.v01*m.v01; det > 0 {
		f.cost -= math.Log(det)
	}
	return f
}

// bestAt finds the best lag for a backlash by parabolas, starting from a lag near it.
func (s *mountFit) bestAt(backlash, lag float64) profilePoint {
	if !s.turns {
		return s.evaluate(backlash, 0)
	}
	var f profilePoint
	h := 0.008
	for range 5 {
		lag = math.Max(leastLagSeconds, math.Min(mostLagSeconds, lag))
		before, here, after := s.evaluate(backlash, lag-h), s.evaluate(backlash, lag), s.evaluate(backlash, lag+h)
		f = here
		bend := (before.cost - 2*here.cost + after.cost) / (h * h)
		if bend <= 0 {
			break
		}
		f.lagVar = 2 / bend
		f.cost -= math.Log(f.lagVar)
		d0, d1 := (after.line.At0-before.line.At0)/(2*h), (after.line.PerDeg-before.line.PerDeg)/(2*h)
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

// takeMoments computes the mean along the ridge and its covariance: the within-node plus
// the between-node covariance.
func (m *Mount) takeMoments(profile []profilePoint) {
	least := math.Inf(1)
	for _, f := range profile {
		least = math.Min(least, f.cost)
	}
	var all, backlash, lag, at0, perDeg float64
	weights := make([]float64, len(profile))
	for i, f := range profile {
		w := f.weight * math.Exp((least-f.cost)/2)
		weights[i] = w
		all += w
		backlash, lag = backlash+w*f.backlash, lag+w*f.lag
		at0, perDeg = at0+w*f.line.At0, perDeg+w*f.line.PerDeg
	}
	m.backlashDeg, m.lagSeconds = backlash/all, lag/all
	m.Line = Line{OK: true, N: profile[0].line.N, At0: at0 / all, PerDeg: perDeg / all}
	var backlashVar, lagVar float64
	for i, f := range profile {
		w := weights[i] / all
		d0, d1 := f.line.At0-m.At0, f.line.PerDeg-m.PerDeg
		m.v00 += w * (f.line.v00 + d0*d0)
		m.v01 += w * (f.line.v01 + d0*d1)
		m.v11 += w * (f.line.v11 + d1*d1)
		backlashVar += w * square(f.backlash-m.backlashDeg)
		lagVar += w * (f.lagVar + square(f.lag-m.lagSeconds))
	}
	m.backlashSDDeg, m.lagSDSeconds = math.Sqrt(backlashVar), math.Sqrt(lagVar)
}
