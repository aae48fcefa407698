package search

import (
	"testing"

	"headtrue/sweep/estimate"
	"headtrue/sweep/record"
)

// A steady delay that lies clearly off the line of its run shows that the screw is not where
// the jig counts it. A delay that jumps at the place shows so only far off the line.
func TestASteadyDelayOffItsLineContradictsTheCount(t *testing.T) {
	c := plannedSearch(estimate.Plan{})
	for _, h := range []struct {
		off, ownSD, stray float64 // arcmin
		follows           bool
	}{
		{0.5, 0.3, 0.6, true},
		{3.4, 0.3, 0.6, false},  // the blade has left the screw
		{-3.4, 0.3, 0.6, false}, // the same on the other side
		{1.8, 0.1, 0.2, true},   // clear, but of no matter
		{3.4, 0.3, 1.5, true},   // the delays lie about their line by as much
		{3.4, 0.7, 0.3, true},   // it jumps
		{9, 1.2, 0.4, false},
		{0, 0.3, 7, false}, // no line at all
	} {
		v := &estimate.Verdict{StrayArcmin: h.stray, TiltArcmin: 2, Mount: estimate.Mount{Line: estimate.Line{OK: true}}}
		err := c.checkCount(v, estimate.Dwelt{All: record.Reading{Coherence: 0.5, DelaySDUS: 1}, Tilt: 2 + h.off, OwnSD: h.ownSD})
		if (err == nil) != h.follows {
			t.Errorf("%+v: %v", h, err)
		}
	}
}
