package logbook

import "testing"

// A mistake of the program in the sender's goroutine ends that goroutine alone: what it
// has not sent waits in the spool.
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
