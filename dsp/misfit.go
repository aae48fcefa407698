package dsp

import (
	"math"
	"math/cmplx"
)

const (
	blockFrames = 7  // a block of the misfit: 85 ms at 48 kHz, short against wander
	groupBins   = 12 // bins tested together
	// finePhase is a phase error, in radians squared, too small to matter here:
	// a quarter of a degree.
	finePhase = 1.9e-5
	// roughPhase is the variance above which a group is not used.
	roughPhase = 0.2
	// cleanMisfit is seldom exceeded by one delay in plain noise.
	cleanMisfit = 1.5
)

// misfit sums, block by block, the residuals of the phase from a straight line, in units
// of the noise.
type misfit struct {
	chiSquared float64
	freedom    int
	straight   Straight
	judged     [straightGroups]judgedGroup // of the present block
}

// judgedGroup is one group of a block, by its number.
type judgedGroup struct {
	group                  int
	phase, variance, omega float64
}

// judge adds one block. near is a line close to the block's own. The block's own slope is
// fitted and removed, so that a tilt that wanders from block to block does not count. A
// group's phase variance is the scatter of its cells across their own mean direction.
func (m *misfit) judge(block *crossSpectrum, p *phaseLine, near line) {
	if near.steepness <= 0 {
		return
	}
	unit, step := p.units(near)
	var phaseSquares, crossed, omegaSquares float64
	used := 0
	for low := 0; low+groupBins <= len(block.sum); low += groupBins {
		start := unit
		var mean complex128
		for k := low; k < low+groupBins; k++ {
			mean += block.sum[k] * unit
			unit *= step
		}
		if real(mean) <= 0 {
			continue
		}
		phase := cmplx.Phase(mean)
		inner := start * cmplx.Rect(1, -phase)
		var across float64
		for k := low; k < low+groupBins; k++ {
			across += block.crosswise(k, inner)
			inner *= step
		}
		variance := spread*across/power(mean) + finePhase
		if variance > roughPhase {
			continue
		}
		omega := 0.5 * (p.omega[low] + p.omega[low+groupBins-1])
		used++
		phaseSquares += phase * phase / variance
		crossed += phase * omega / variance
		omegaSquares += omega * omega / variance
		m.judged[used-1] = judgedGroup{low / groupBins, phase, variance, omega}
	}
	if used < 2 {
		return
	}
	m.chiSquared += phaseSquares - crossed*crossed/omegaSquares
	m.freedom += used - 1
	for _, g := range m.judged[:used] {
		m.straight.groups[g.group].add(g.omega, g.phase-crossed/omegaSquares*g.omega, g.variance)
	}
}

// perFreedom returns chi-squared per degree of freedom; zero before any block could be
// tested.
func (m misfit) perFreedom() float64 {
	if m.freedom == 0 {
		return 0
	}
	return math.Max(0, m.chiSquared/float64(m.freedom))
}
