package stream

import "slices"

// Stages counts the stages of a run: those that it has entered, and about how many there will
// be.
type Stages struct {
	Plan    []string // the stages of a run that nothing disturbs
	next    int      // index in the plan of the first stage that is still to come
	entered []string
}

// Enter takes the phase of an event.
func (s *Stages) Enter(phase string) {
	if phase == "" || phase == "end" || slices.Contains(s.entered, phase) {
		return
	}
	s.entered = append(s.entered, phase)
	if i := slices.Index(s.Plan, phase); i >= s.next {
		s.next = i + 1
	}
}

// Count returns the number of the present stage, and about how many there will be: those
// entered, and those of the plan that are still to come. The first is never the greater.
func (s *Stages) Count() (n, about int) {
	return len(s.entered), len(s.entered) + len(s.Plan) - s.next
}
