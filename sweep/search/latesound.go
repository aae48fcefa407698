package search

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"headtrue/sweep/estimate"
	"headtrue/sweep/record"
	"headtrue/sweep/session"
)

// dwellPieceSeconds is the length of a piece of a dwell.
const dwellPieceSeconds = 0.25

// heardMoving stops a run whose sound arrives later than the settling time. Then the first
// pieces heard at a place are still from the turn to it, and so they were at all places
// before. The move to a place turns the head by some arcmin at least within a piece; a
// wander does not leap as far.
func (c *Search) heardMoving(heard estimate.Standing) error {
	late := movingPieces(heard.Tilt)
	if late == 0 {
		return nil
	}
	settle := c.Plan.SettleSeconds
	need := 1000 * math.Ceil(2*(settle+dwellPieceSeconds*float64(late)+0.4)) / 2
	how := "align again"
	if c.Plan.Turns() {
		how += " with --stop-and-measure"
	}
	return &session.Stop{Outcome: record.TooUncertain,
		Say:          fmt.Sprintf("the sound arrives too late: the settling time is %.1f s, and the head was heard to turn for %.1f s more after the screw had stopped", settle, dwellPieceSeconds*float64(late)),
		Do:           fmt.Sprintf("use an input with less delay, or set settle_ms to %.0f or more, and %s", need, how),
		DelayDoubted: true} // on the way back the sound is equally late
}

// movingPieces returns how many of the first tilts, arcmin, were heard while the head still
// turned: they lie clear of all later tilts.
func movingPieces(tilt []float64) int {
	const least, clear, fewest = 3.5, 5, 4 // arcmin, standard deviations, pieces that follow
	moving := 0
	for n := 1; len(tilt)-n >= fewest && n <= 6; n++ {
		rest := tilt[n:]
		middle, scatter := estimate.Median(slices.Clone(rest)), stat.StdDev(rest, nil)
		if off := math.Abs(tilt[n-1] - middle); off > least && off > clear*scatter {
			moving = n
		}
	}
	return moving
}
