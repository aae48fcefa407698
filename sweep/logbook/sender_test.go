package logbook

import "testing"

// A program error in the sender's goroutine ends that goroutine only: the unsent entries
// wait in the spool.
func TestASenderThatBreaksEndsNothingElse(t *testing.T) {
	s := &sender{book: &Book{}, done: make(chan struct{})} // a book without a spool: nil is used
	s.work(t.Context())
	select {
	case <-s.done:
	default:
		t.Error("it has not ended")
	}
	if !s.away.Load() {
		t.Error("what it has not sent does not count as waiting")
	}
}
