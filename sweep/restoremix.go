package sweep

import (
	"fmt"
	"math"

	"headtrue/sweep/estimate"

	"headtrue/sweep/record"
	"headtrue/sweep/tape"
)

// In a mix whose sources have delays of their own the delay of a passage is not that of
// another one, by as much at the restore as it was as found. FoundHomeSDArcmin holds
// how far the delays of that run strayed; more listening now would not take out what
// the few seconds as found had of it.

// mixed says that the past run heard a second source in the mix.
func (p Past) mixed() bool { return p.Decision != nil && p.Decision.SecondSourceHeard }

// betweenSD is the standard deviation of the tilt by delay between two readings of
// different passages, arcmin.
func (p Past) betweenSD(f tape.Format, a, b record.Reading) float64 {
	sd := estimate.TiltSD(f, a, b)
	if p.mixed() {
		sd = math.Hypot(sd, p.Decision.FoundHomeSDArcmin)
	}
	return sd
}

// giveOrTake says how well a restore on a mix compares.
func (p Past) giveOrTake(h homing) string {
	if !p.mixed() {
		return ""
	}
	return fmt.Sprintf(", give or take %.1f' (one standard uncertainty): the delays in this mix change with the passage", h.sd)
}
