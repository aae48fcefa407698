package estimate

import (
	"math"
	"sync"
)

// candidate is a drift and its relative probability.
type candidate struct {
	drift
	weight float64
}

// posterior is a set of weighted drifts about the usual one.
type posterior []candidate

// sizes are the candidate sizes relative to the usual one, in half octaves: dense about
// the usual one, sparse down to almost none.
var sizes = []float64{-10, -8, -6, -4, -3, -2, -1, 0, 1, 2, 3, 4}

// newPosterior weights the drifts by the data. misfit is minus twice their
// log-likelihood, up to a constant. The prior is log-normal about the usual drift: one
// standard deviation is a factor of two in size and of four in both times.
func newPosterior(usual drift, misfit func(drift) float64) posterior {
	slow := []float64{0}
	if usual.returns > 0 {
		slow = []float64{-2, -1, 0, 1, 2}
	}
	var all posterior
	for _, slowness := range slow {
		for _, size := range sizes {
			for time := -3.0; time <= 3; time++ {
				d := drift{usual.Rms * math.Exp2(size/2), usual.seconds * math.Exp2(time), usual.returns * math.Exp2(slowness)}
				if usual.returns > 0 && d.returns < 1.5*d.seconds {
					continue
				}
				all = append(all, candidate{d, math.Exp(-(size*size + time*time + slowness*slowness) / 8)})
			}
		}
	}
	return all.update(misfit)
}

// update returns the posterior after further data that are independent of the earlier
// data.
func (b posterior) update(misfit func(drift) float64) posterior {
	costs := make([]float64, len(b))
	least := math.Inf(1)
	for i, d := range b {
		costs[i] = misfit(d.drift) - 2*math.Log(d.weight)
		least = min(least, costs[i])
	}
	after := make(posterior, len(b))
	for i, d := range b {
		after[i] = candidate{d.drift, math.Exp((least - costs[i]) / 2)}
	}
	return after
}

// Wander is what is known of the tilt's change that the screw does not cause.
type Wander = posterior

// UsualWander is the wander of a tape that was not heard yet.
func UsualWander() Wander { return priorWander() }

// mode returns the likeliest drift.
func (b posterior) mode() drift {
	var best candidate
	for _, d := range b {
		if d.weight > best.weight {
			best = d
		}
	}
	return best.drift
}

// MeanSD is drift.meanSD, averaged as a variance over the posterior.
func (b posterior) MeanSD(seconds float64) float64 {
	return b.rootMean(func(d drift) float64 {
		sd := d.meanSD(seconds)
		return sd * sd
	})
}

// rootMean returns the root of the posterior mean of a variance.
func (b posterior) rootMean(variance func(drift) float64) float64 {
	var sum, all float64
	for _, d := range b {
		if d.weight > 1e-6 { // smaller weights are negligible
			sum += d.weight * variance(d.drift)
			all += d.weight
		}
	}
	return math.Sqrt(sum / all)
}

// usualWander is the prior of the tape's skew: 600 microradians peak to peak are typical
// (AES e-library 3710). Rotating parts cause it. The hubs turn slowest, once in a few
// seconds, and little of the skew is slower than that (common practice, no source).
var usualWander = drift{Rms: 1, seconds: 0.1, returns: 1.6}

// priorWander is the wander's posterior without data.
var priorWander = sync.OnceValue(func() posterior { return newPosterior(usualWander, func(drift) float64 { return 0 }) })

// Priors of backlash and lag.
const (
	UsualBacklashDeg, UsualBacklashSDDeg = 8.0, 12.0
	usualLagSeconds, usualLagSDSeconds   = 0.1, 0.15
)
