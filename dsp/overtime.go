package dsp

import (
	"math"

	"gonum.org/v1/gonum/stat"
)

// overTime is a mean of a delay over time, in seconds: where a tape wanders, loud
// moments must not outweigh the rest.
type overTime struct {
	delay float64
	sd    float64 // of its batches' scatter, widened for slow wander
	noise float64 // of noise alone
	ok    bool
}

// leastBatches that a mean over time is taken of.
const leastBatches = 5

// clearWander is how much more the batches must vary than by noise, as a ratio of
// variances: where noise is most of it, power weighs best.
const clearWander = 4

// overTime weighs the batches by their own noise and by the wander between them,
// which is estimated from their scatter (random effects: Cochran, Biometrics 10,
// 1954, from memory). It says no where they hardly
// wander: then power weighs best. cells is the standard error of the whole by
// noise. It follows fit on the same sums.
func (p *phaseLine) overTime(whole []batch, l line, cells float64) overTime {
	n := len(whole)
	if n < leastBatches || l.rival != 0 || l.steepness <= 0 {
		return overTime{}
	}
	var at, own [batchLimit + 1]float64
	for b := range whole {
		at[b], own[b] = p.alone(whole[b].cross, l)
	}
	between := wanderBetween(at[:n], own[:n])
	if between < clearWander*cells*cells*float64(n) {
		return overTime{}
	}
	var weights, mean, noise float64
	for b := range n {
		w := 1 / (own[b] + between)
		weights += w
		mean += w * at[b]
		noise += w * w * own[b]
	}
	mean /= weights
	for b := range n {
		at[b] = mean + float64(n)*(at[b]-mean)/((own[b]+between)*weights)
	}
	return overTime{delay: l.seconds + mean, sd: standardError(at[:n]), noise: math.Sqrt(noise) / weights, ok: true}
}

// alone is how much later than a line a batch by itself has the delay, and the
// variance of that, from the scatter of its bins across its own line.
func (p *phaseLine) alone(cross []complex128, l line) (later, variance float64) {
	across, along := p.pull(cross, l)
	if along <= 0 {
		return 0, furthestUS * furthestUS * 1e-12
	}
	later = -across / along
	unit, step := p.units(l)
	for k, z := range cross {
		turned := z * unit
		off := p.weight[k] * p.omega[k] * (imag(turned) + p.omega[k]*later*real(turned))
		variance += off * off
		unit *= step
	}
	return later, spread * variance / (along * along)
}

// wanderBetween is the variance of what lies beneath values of given variances:
// that of the values less the mean of theirs.
func wanderBetween(x, variance []float64) float64 {
	return max(0, stat.Variance(x, nil)-stat.Mean(variance, nil))
}
