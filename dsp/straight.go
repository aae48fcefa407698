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
	weight, phase, squares float64 // of w, of w phase, of (w phase)^2
}

const (
	// straightGroups are more than lie between phaseLowHz and phaseHighHz.
	straightGroups = 32
	// straightLeast is how many blocks a group must have had to count, and
	// straightGroupsLeast how many such groups there must be.
	straightLeast, straightGroupsLeast = 8, 6
	// straightFloor is what is let pass in each group, radians: 0.6 degrees.
	straightFloor = 0.6 * math.Pi / 180
)

// Add adds what another one has heard.
func (s *Straight) Add(o *Straight) {
	for i := range s.groups {
		a, b := &s.groups[i], &o.groups[i]
		a.blocks += b.blocks
		a.weight, a.phase, a.squares = a.weight+b.weight, a.phase+b.phase, a.squares+b.squares
	}
}

func (g *strayed) add(phase, variance float64) {
	g.blocks++
	g.weight += 1 / variance
	g.phase += phase / variance
	g.squares += phase * phase / (variance * variance)
}

// Misfit is chi-squared per degree of freedom of the groups' mean phases: about 1
// or less where one delay explains the sound, whose deviations a mean of few blocks
// has by their own scatter (the sandwich of a weighted mean: Huber, Proc. 5th
// Berkeley Symp. 1, 221-233, 1967, from memory). It is not ok before enough was
// heard.
func (s *Straight) Misfit() (perFreedom float64, ok bool) {
	var sum float64
	used := 0
	for _, g := range s.groups {
		if g.blocks < straightLeast {
			continue
		}
		n, mean := float64(g.blocks), g.phase/g.weight
		// (n-1)/(n-3) is the mean square of Student's t
		variance := g.squares/(g.weight*g.weight)*n/(n-3) + straightFloor*straightFloor
		sum += mean * mean / variance
		used++
	}
	if used < straightGroupsLeast {
		return 0, false
	}
	return sum / float64(used-1), true
}
