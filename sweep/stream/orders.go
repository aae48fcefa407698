package stream

import "sync"

// Orders are requests to a run under way: to end with the present results, to pause between
// two steps, or the report that a person's part is done. The run reads them once per block
// of sound. The zero value has none; a nil one never has any.
type Orders struct {
	mu       sync.Mutex
	finish   bool
	paused   bool
	answered map[int]bool
	change   chan struct{} // closed at the next order; nil until somebody waits
}

// Finish makes the run measure no more than it must and go to the present optimum.
func (o *Orders) Finish() { o.set(func() { o.finish = true }) }

// Pause makes the run wait before its next step, with the screw at rest.
func (o *Orders) Pause() { o.set(func() { o.paused = true }) }

// Resume ends a pause.
func (o *Orders) Resume() { o.set(func() { o.paused = false }) }

// Answer reports that a person has done what the prompt of that ID asks for.
func (o *Orders) Answer(id int) {
	o.set(func() {
		if o.answered == nil {
			o.answered = map[int]bool{}
		}
		o.answered[id] = true
	})
}

func (o *Orders) set(change func()) {
	o.mu.Lock()
	defer o.mu.Unlock()
	change()
	if o.change != nil {
		close(o.change)
		o.change = nil
	}
}

// Finishing reports whether the run was ordered to end.
func (o *Orders) Finishing() bool { return o.has(func() bool { return o.finish }) }

// Paused reports whether the run was ordered to pause.
func (o *Orders) Paused() bool { return o.has(func() bool { return o.paused }) }

func (o *Orders) has(what func() bool) bool {
	if o == nil {
		return false
	}
	o.mu.Lock()
	defer o.mu.Unlock()
	return what()
}

// Answered reports whether the prompt of that ID has been answered, and returns a channel
// that is closed at the next order.
func (o *Orders) Answered(id int) (done bool, change <-chan struct{}) {
	if o == nil {
		return false, nil
	}
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.change == nil {
		o.change = make(chan struct{})
	}
	return o.answered[id], o.change
}
