package study

import (
	"fmt"
	"math"
)

// Step is a change of level at a known event, for example lacquer on the screw.
type Step struct {
	AtDays               float64
	SizeArcmin, SDArcmin float64
	Interval             Interval // of the size, 95 %
	Before, After        int      // points on either side
}

// Across returns the effect of an event: the level after it minus the level before, by
// weighted least squares over all points, with a common trend if trend is set. A point
// exactly at the day of the event counts as after it.
func Across(points []Point, eventDays float64, trend bool) (Step, error) {
	s, err := inOrder(points)
	if err != nil {
		return Step{}, err
	}
	step := Step{AtDays: eventDays}
	ones, after, since := make([]float64, len(points)), make([]float64, len(points)), make([]float64, len(points))
	for i, days := range s.days {
		ones[i], since[i] = 1, days-eventDays
		if days >= eventDays {
			after[i] = 1
			step.After++
		}
	}
	step.Before = len(points) - step.After
	design := columns{ones, after}
	if trend {
		design = append(design, since)
	}
	dof := len(points) - len(design)
	if step.Before == 0 || step.After == 0 || dof < 1 {
		return Step{}, fmt.Errorf("study: %d points before day %v and %d after it: %w", step.Before, eventDays, step.After, ErrUndetermined)
	}
	values, chi2, err := design.solve(s.arcmin, s.sd)
	if err != nil {
		return Step{}, fmt.Errorf("study: the step at day %v: %w", eventDays, err)
	}
	covariance, err := design.covariance(s.sd)
	if err != nil {
		return Step{}, fmt.Errorf("study: the step at day %v: %w", eventDays, err)
	}
	scale, coverage := scatter(chi2, dof, s.stated)
	step.SizeArcmin, step.SDArcmin = values[1], scale*math.Sqrt(covariance.At(1, 1))
	step.Interval = Interval{step.SizeArcmin - coverage*step.SDArcmin, step.SizeArcmin + coverage*step.SDArcmin}
	return step, nil
}

// Say returns the step in words, and whether it is significant.
func (s Step) Say() string {
	verdict := "it moved the head"
	if s.Interval.Holds(0) {
		verdict = "no movement is proved"
	}
	return fmt.Sprintf("Change at day %.4g: %+.2g' +- %.2g' (%+.2g' to %+.2g' with 95 %%): %s.",
		s.AtDays, s.SizeArcmin, s.SDArcmin, s.Interval.LowArcmin, s.Interval.HighArcmin, verdict)
}
