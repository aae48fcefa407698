package study

import "fmt"

// Step is a change of level at a known event, for example lacquer on the screw.
type Step struct {
	AtDays               float64
	SizeArcmin, SDArcmin float64
	Interval             Interval // of the size, 95 %
	// Chance is the probability of such a step, to either side, if the event has done
	// nothing.
	Chance        float64
	Before, After int // points on either side
	Allowed       Allowed
}

// moved is the chance below which an event counts as having moved the head. A test measures
// how often it does so wrongly.
const moved = 0.01

// Across returns the effect of an event: the level after it minus the level before, fitted
// together with the allowed laws and influences, over all points. A point exactly at the day
// of the event counts as after it.
func Across(points []Point, eventDays float64, allowed Allowed) (Step, error) {
	s, err := inOrder(points)
	if err != nil {
		return Step{}, err
	}
	step := Step{AtDays: eventDays, Allowed: allowed}
	step.Before = s.firstFrom(eventDays)
	if step.After = len(points) - step.Before; step.Before < fewest || step.After < fewest {
		return step, fmt.Errorf("study: %d points before day %.4g and %d after it, %d on each side are needed: %w", step.Before, eventDays, step.After, fewest, ErrUndetermined)
	}
	all, err := s.explanations(allowed, s.stepAt(step.Before))
	if err != nil {
		return step, fmt.Errorf("study: the step at day %.4g: %w", eventDays, err)
	}
	size := belief(all, explanation.last)
	step.SizeArcmin, step.SDArcmin, step.Interval, step.Chance = size.mean(), size.sd(), size.interval(), size.either()
	return step, nil
}

// fewest is the least number of points on either side of a step: with fewer a single stray
// reading makes one.
const fewest = 3

// last returns the coefficient of the last column, for errors of 1.
func (e explanation) last() (value, sd float64) {
	n := len(e.basis.q) - 1
	length := e.basis.r[n][n]
	return dot(e.basis.q[n], e.y) / length, 1 / length
}

// Moved reports whether the event has moved the head.
func (s Step) Moved() bool { return s.Chance < moved }

// Say returns the step in words, and whether it is significant.
func (s Step) Say() string {
	verdict := "no movement is proved"
	if s.Moved() {
		verdict = "it moved the head"
	}
	return fmt.Sprintf("Change at day %.4g, with %s allowed for: %+.2g' (95 %%: %+.2g' to %+.2g'): %s.",
		s.AtDays, s.Allowed.Say(), s.SizeArcmin, s.Interval.LowArcmin, s.Interval.HighArcmin, verdict)
}
