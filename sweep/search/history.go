package search

import (
	"math"
	"slices"

	"headtrue/sweep/estimate"
	"headtrue/sweep/record"
)

// phaseBracket names the steps of the coarse search.
const phaseBracket = "bracket"

// phaseApproach names the steps towards the delay zero.
const phaseApproach = "approach"

func (c *Search) byDelayAlone() bool { return c.Plan.ByDelayAlone() }

// brightest is which of the steps, one at least, has the most treble.
func brightest(steps []record.Step) int {
	best := 0
	for i, s := range steps {
		if s.Reading.TrebleDB > steps[best].Reading.TrebleDB {
			best = i
		}
	}
	return best
}

// scanSteps are the steps of the scan under way.
func (c *Search) scanSteps() []record.Step { return c.Steps[min(c.scanned, len(c.Steps)):] }

// perDeg is the size of the gearing in arcmin per degree of screw: by the
// delay where the last run in one direction is long enough to tell, else as the
// plan says.
func (c *Search) perDeg() float64 {
	if l := estimate.FitLine(c.Plan.Points(c.fineSteps())); l.OK {
		return max(math.Abs(l.PerDeg), estimate.LowestGearing/360.0)
	}
	var run []estimate.Point
	steps := c.scanSteps()
	for i, p := range c.Plan.Points(steps) {
		if p.ByX && math.Abs(steps[i].ScrewDeg-steps[0].ScrewDeg) > estimate.SlackAllowanceDeg {
			run = append(run, p)
		}
	}
	if l := estimate.FitLineThrough(run); l.OK && l.N >= 6 {
		return max(math.Abs(l.PerDeg), estimate.LowestGearing/360.0)
	}
	return math.Abs(c.Plan.GearingArcminPerTurn) / 360
}

// beginRun says that the steps from here on are a run of their own.
func (c *Search) beginRun() { c.run = len(c.Steps) }

// runSteps are the steps of the run under way.
func (c *Search) runSteps() []record.Step { return c.Steps[min(c.run, len(c.Steps)):] }

// fineSteps are the steps of the refinement and of a survey.
func (c *Search) fineSteps() []record.Step {
	for i, s := range c.Steps {
		if s.Phase != phaseBracket {
			return c.Steps[i:]
		}
	}
	return nil
}

// Settled are the steps that a decision rests on: all of them for a programme;
// for a tone, whose periods are counted for certain only within one run, the
// runs across the top, or before there is one, the scan that found it.
func (c *Search) Settled() []record.Step {
	switch fine := c.fineSteps(); {
	case c.Plan.Turns():
		return c.acrossTop()
	case c.Plan.ByTreble:
		return c.Steps
	case c.Plan.ToneHz == 0 && c.way.OK:
		return c.along(c.way)
	case c.Plan.ToneHz == 0:
		return c.Steps
	case len(fine) >= 9:
		return fine
	}
	return c.scanSteps()
}

// acrossTop are the steps of the last scan and the passes after it, from the null
// before the top on: what came earlier says nothing about the top.
func (c *Search) acrossTop() []record.Step {
	const null = 15 // dB below the top
	steps := c.scanSteps()
	if len(steps) == 0 {
		return nil
	}
	best := 0
	for i, s := range steps {
		if s.Phase == phaseBracket && s.Reading.TrebleDB > steps[best].Reading.TrebleDB {
			best = i
		}
	}
	for top := steps[best].Reading.TrebleDB; best > 0 && estimate.DelayUsable(steps[best-1].Reading) && steps[best-1].Reading.TrebleDB > top-null; {
		best--
	}
	return steps[best:]
}

// along are the steps whose delay, where it can be used, lies near a line.
func (c *Search) along(l estimate.Line) []record.Step {
	return slices.DeleteFunc(slices.Clone(c.Steps), func(s record.Step) bool {
		return estimate.DelayUsable(s.Reading) && math.Abs(s.Reading.TiltArcmin-l.At0-l.PerDeg*s.ScrewDeg) > trailArcmin
	})
}
