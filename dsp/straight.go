package dsp

import "math"

// Straight tests whether the phase of a programme is the straight line of one delay, over
// many blocks, even of several readings. Each block's own line is removed, so a wandering
// delay cancels. The residual of a group of frequencies adds up only if it is constant;
// it is compared with its own scatter from block to block, whatever its cause in the
// music. Sources with their own delays, whose mean is then the delay, show here even if
// each single block looks straight. The zero value is empty.
type Straight struct {
	groups [straightGroups]strayed
}

// strayed holds sums over blocks of one group's phase residual, in radians, weighted by
// one over its variance.
type strayed struct {
	blocks                 int
	omega                  float64 // angular frequency of the group's middle
	weight, phase, squares float64 // of w, of w phase, of (w phase)^2
}

const (
	// straightGroups exceeds the groups between phaseLowHz and phaseHighHz.
	straightGroups = 36
	// straightLeast is how many blocks a group needs to count, and straightGroupsLeast
	// how many such groups a test needs.
	straightLeast, straightGroupsLeast = 8, 6
	// straightFloor is the tolerance of each group, radians: 1.2 degrees, about the
	// residual of clean recordings (the pieces of testdata/README.md without their own
	// delays, in the runs of sweep's tables).
	straightFloor = 1.2 * math.Pi / 180
	// Range of the delays of a second source, searched in steps that miss no hump of the
	// phase.
	leastApartUS, mostApartUS, apartStep = 15.0, 520.0, 1.1
)

// Add adds the sums of o.
func (s *Straight) Add(o *Straight) {
	for i := range s.groups {
		a, b := &s.groups[i], &o.groups[i]
		a.blocks += b.blocks
		a.omega = max(a.omega, b.omega)
		a.weight, a.phase, a.squares = a.weight+b.weight, a.phase+b.phase, a.squares+b.squares
	}
}

func (g *strayed) add(omega, phase, variance float64) {
	g.blocks++
	g.omega = omega
	g.weight += 1 / variance
	g.phase += phase / variance
	g.squares += phase * phase / (variance * variance)
}

// SecondSource returns the largest deviation of the phase from the line of one delay, in
// standard deviations, in the shape of a second source later by 15 to 520 us. A share a
// of the power makes the cross-spectrum 1 + a exp(-i w t), whose phase is -a sin(w t) for
// a small a. For each t in turn, a matched filter estimates a from the part of this phase
// that is not a straight line. With one delay alone the largest of these is about 2. The variance of a
// group's mean comes from its own scatter (the sandwich of a weighted mean: Huber, Proc.
// 5th Berkeley Symp. 1, 221-233, 1967, from memory). ok is false for too little sound.
func (s *Straight) SecondSource() (deviations float64, ok bool) {
	var means []strayedMean
	for _, g := range s.groups {
		if g.blocks >= straightLeast {
			means = append(means, g.mean())
		}
	}
	if len(means) < straightGroupsLeast {
		return 0, false
	}
	for us := leastApartUS; us <= mostApartUS; us *= apartStep {
		deviations = max(deviations, math.Abs(matched(means, us*1e-6)))
	}
	return deviations, true
}

// strayedMean is a group's mean phase residual and one over its variance, at its angular
// frequency.
type strayedMean struct{ omega, phase, weight float64 }

func (g strayed) mean() strayedMean {
	n := float64(g.blocks)
	// (n-1)/(n-3) is the mean square of Student's t
	variance := g.squares/(g.weight*g.weight)*n/(n-3) + straightFloor*straightFloor
	return strayedMean{omega: g.omega, phase: g.phase / g.weight, weight: 1 / variance}
}

// matched returns the amplitude, in standard deviations, of the phase of a second source
// late by late seconds, with its straight line removed.
func matched(means []strayedMean, late float64) float64 {
	var crossed, squares float64
	for _, m := range means {
		crossed += m.weight * m.omega * math.Sin(m.omega*late)
		squares += m.weight * m.omega * m.omega
	}
	slope := crossed / squares
	var found, power float64
	for _, m := range means {
		shape := math.Sin(m.omega*late) - slope*m.omega
		found += m.weight * shape * m.phase
		power += m.weight * shape * shape
	}
	return found / math.Sqrt(power)
}
