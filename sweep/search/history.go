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

// brightest returns the index of the step with the most treble; steps must not be empty.
func brightest(steps []record.Step) int {
	best := 0
	for i, s := range steps {
		if s.Reading.TrebleDB > steps[best].Reading.TrebleDB {
			best = i
		}
	}
	return best
}

// scanSteps returns the steps of the scan under way.
func (c *Search) scanSteps() []record.Step { return c.Steps[min(c.scanned, len(c.Steps)):] }

// perDeg returns the gearing in arcmin per degree of screw, without its sign: by the delay
// if the last run in one direction is long enough, else by the plan.
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

// beginRun starts a new run at the next step.
func (c *Search) beginRun() { c.run = len(c.Steps) }

// runSteps returns the steps of the run under way.
func (c *Search) runSteps() []record.Step { return c.Steps[min(c.run, len(c.Steps)):] }

// fineSteps returns the steps of the refinement and of a survey.
func (c *Search) fineSteps() []record.Step {
	for i, s := range c.Steps {
		if s.Phase != phaseBracket {
			return c.Steps[i:]
		}
	}
	return nil
}

// acrossTop returns the steps of the last scan and the passes after it, from the null before
// the top on: earlier steps carry no information about the top.
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

// along returns the steps whose delay, if usable, lies near a line.
func (c *Search) along(l estimate.Line) []record.Step {
	return slices.DeleteFunc(slices.Clone(c.Steps), func(s record.Step) bool {
		return estimate.DelayUsable(s.Reading) && math.Abs(s.Reading.TiltArcmin-l.At0-l.PerDeg*s.ScrewDeg) > trailArcmin
	})
}

// Settled returns the steps that a decision uses.
func (c *Search) Settled() []record.Step { return c.material.settled() }
