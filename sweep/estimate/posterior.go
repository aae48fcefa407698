package estimate

import (
	"math"
	"sync"
)

// candidate is a drift and how likely it is, against the others.
type candidate struct {
	drift
	weight float64
}

// posterior are drifts about the usual one.
type posterior []candidate

// sizes are those that a drift may have against the usual, in half octaves: many
// about the usual one, and few down to where there is hardly any.
var sizes = []float64{-10, -8, -6, -4, -3, -2, -1, 0, 1, 2, 3, 4}

// newPosterior weighs drifts by what the data say, misfit being minus twice the logarithm
// of their likelihood but for a constant, held loosely near the usual one: by a
// factor of two in size, and of four in both times (one standard deviation).
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

// update is what is believed after further data, independent of those before.
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

// mode is the one that is believed most.
func (b posterior) mode() drift {
	var best candidate
	for _, d := range b {
		if d.weight > best.weight {
			best = d
		}
	}
	return best.drift
}

// MeanSD is drift.meanSD over all that may be.
func (b posterior) MeanSD(seconds float64) float64 {
	return b.rootMean(func(d drift) float64 {
		sd := d.meanSD(seconds)
		return sd * sd
	})
}

// rootMean is the root of the mean of a variance over all that may be.
func (b posterior) rootMean(variance func(drift) float64) float64 {
	var sum, all float64
	for _, d := range b {
		if d.weight > 1e-6 { // less adds nothing
			sum += d.weight * variance(d.drift)
			all += d.weight
		}
	}
	return math.Sqrt(sum / all)
}

// usualWander is what is expected of the tape's skew before anything was
// measured: 600 microradians peak to peak are typical (AES e-library 3710). What
// makes it is round and turns, hubs the slowest; little of it is slower than one
// turn of those in a few seconds (common practice, no source).
var usualWander = drift{Rms: 1, seconds: 0.1, returns: 1.6}

// priorWander is what the wander may be, before anything was measured.
var priorWander = sync.OnceValue(func() posterior { return newPosterior(usualWander, func(drift) float64 { return 0 }) })

// What is expected of backlash and lag before anything was measured.
const (
	UsualBacklashDeg, UsualBacklashSDDeg = 8.0, 12.0
	usualLagSeconds, usualLagSDSeconds   = 0.1, 0.15
)
