package search

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"headtrue/sweep/estimate"
	"headtrue/sweep/record"
	"headtrue/sweep/session"
)

// checkTreble stops a run on a programme whose treble has shown no top twice.
func (c programme) checkTreble(l estimate.Line) error {
	err := c.noTreble(l)
	if err == nil {
		c.dullPasses = 0
		return nil
	}
	if c.dullPasses++; c.dullPasses < dullPasses {
		c.Tell("bracket", "the treble hardly changes when the head turns: measuring once more")
		return nil
	}
	return err
}

// noTreble returns a Stop if the treble does not change although the head was turned right
// across the top, by its delay line.
func (c programme) noTreble(l estimate.Line) error {
	if !l.OK {
		return nil
	}
	half := c.Plan.Material().HalfWidthArcmin(c.Plan.DullDB)
	zero := c.Plan.Tape.Arcmin(c.Plan.ChannelDelayUS)
	lo, hi := math.Inf(1), math.Inf(-1)
	var top, flank []estimate.Point
	for _, p := range c.Plan.Points(c.along(l)) {
		x := l.At0 + l.PerDeg*p.Deg
		lo, hi = min(lo, x), max(hi, x)
		switch d := math.Abs(x - zero); {
		case d < 0.6*half:
			top = append(top, p)
		case d > 1.1*half:
			flank = append(flank, p)
		}
	}
	if len(top) < 2 || len(flank) < 2 {
		return nil
	}
	rise, flat := flatRise(top, flank, func(p estimate.Point) float64 { return p.DB })
	if _, dull := flatRise(top, flank, estimate.Point.Brightness); !flat || !dull {
		return nil
	}
	return &session.Stop{Outcome: record.NoTreble,
		Say: fmt.Sprintf("this music has no treble to judge by: turning the head by %.0f' changed it by %.1f dB", hi-lo, rise),
		Do:  "play a passage with cymbals or other bright sound, or a tone"}
}

// dullPasses is how often the treble must have shown no top: a passage can happen to
// brighten when the head dulls it.
const dullPasses = 2

// flatRise returns by how much a level is higher near the top than on the flanks, and
// whether that rise is insignificant.
func flatRise(top, flank []estimate.Point, level func(estimate.Point) float64) (rise float64, flat bool) {
	levels := func(ps []estimate.Point) (out []float64) {
		for _, p := range ps {
			out = append(out, level(p))
		}
		return out
	}
	rise, more := riseOf(levels(top), levels(flank))
	return rise, rise < leastRiseDB && rise+more < usualRiseDB
}

// riseOf returns the difference of two means, and by how much the true one may exceed it:
// the one-sided limit of 97.5 % by Student's t, with a variance common to both.
func riseOf(top, flank []float64) (rise, more float64) {
	n, m := float64(len(top)), float64(len(flank))
	freedom := n + m - 2
	variance := ((n-1)*stat.Variance(top, nil) + (m-1)*stat.Variance(flank, nil)) / freedom
	t := distuv.StudentsT{Sigma: 1, Nu: freedom}.Quantile(0.975)
	return stat.Mean(top, nil) - stat.Mean(flank, nil), t * math.Sqrt(variance*(1/n+1/m))
}

// usualRiseDB is the usual rise of the treble from the flanks to the top: the azimuth loss
// on the flanks, less the hiss in it.
const usualRiseDB = 6

// leastRiseDB is the least rise from the flanks to the top at which the treble is usable.
const leastRiseDB = 2.5
