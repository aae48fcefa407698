package dsp

import "math"

// Straight tells whether the phase of a programme is the straight line of one
// delay, over many blocks, even of several readings. Of each block its own line is
// taken out, so that a delay that wanders is none of it. What is left in a group of
// frequencies adds up only where it is always the same, and is held against its own
// scatter from block to block, whatever the music makes of that. Sources with
// delays of their own, whose mean the delay then is, show here even where each block
// by itself looks straight. The zero value has heard nothing.
type Straight struct {
	groups [straightGroups]strayed
}

// strayed are sums over blocks of one group's phase off the line, in radians,
// weighted by one over its variance.
type strayed struct {
	blocks                 int
	omega                  float64 // angular frequency of the group's middle
	weight, phase, squares float64 // of w, of w phase, of (w phase)^2
}

const (
	// straightGroups are more than lie between phaseLowHz and phaseHighHz.
	straightGroups = 36
	// straightLeast is how many blocks a group must have had to count, and
	// straightGroupsLeast how many such groups there must be.
	straightLeast, straightGroupsLeast = 8, 6
	// straightFloor is what is let pass in each group, radians: 1.2 degrees, about
	// what clean recordings have of their own (the pieces of testdata/README.md
	// without delays of their own, in the runs of sweep's tables).
	straightFloor = 1.2 * math.Pi / 180
	// Delays of a second source that are looked for, in steps that no hump of the
	// phase slips through.
	leastApartUS, mostApartUS, apartStep = 15.0, 520.0, 1.1
)

// Add adds what another one has heard.
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

// SecondSource is by how many standard deviations, at most, the phase strays from the
// line of one delay as it does where a second source, later by 15 to 520 us, is in the
// mix. With a share a of the power it makes the cross-spectrum 1 + a exp(-i w t), whose
// phase is -a sin(w t) for a small a; the part of that which is no line is looked for
// by a matched filter, with a free and t tried one after the other. Of so many tries
// one delay alone makes about 2. A group's variance is that of its mean by its own
// scatter (the sandwich of a weighted mean: Huber, Proc. 5th Berkeley Symp. 1, 221-233,
// 1967, from memory). It is not ok before enough was heard.
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

// strayedMean is a group's mean phase off the line, with one over its variance, at
// its angular frequency.
type strayedMean struct{ omega, phase, weight float64 }

func (g strayed) mean() strayedMean {
	n := float64(g.blocks)
	// (n-1)/(n-3) is the mean square of Student's t
	variance := g.squares/(g.weight*g.weight)*n/(n-3) + straightFloor*straightFloor
	return strayedMean{omega: g.omega, phase: g.phase / g.weight, weight: 1 / variance}
}

// matched is how many deviations there are of the phase of a second source so many
// seconds late, less the line through it.
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
