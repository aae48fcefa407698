package stream

import (
	"context"
	"io"
	"sync"
)

// Ring holds the newest events of a run for any number of readers. Publishing never waits: a
// slow reader misses the oldest events and receives their number.
type Ring struct {
	mu     sync.Mutex
	events []Event
	last   uint64 // number of the newest event
	ended  bool
	more   chan struct{} // closed when there is more to read
}

// NewRing returns a ring for size events.
func NewRing(size int) *Ring {
	return &Ring{events: make([]Event, size), more: make(chan struct{})}
}

// Publish adds an event and numbers it. After Close it does nothing.
func (r *Ring) Publish(e Event) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.ended {
		return
	}
	r.last++
	e.N = r.last
	r.events[e.N%uint64(len(r.events))] = e
	r.wake()
}

// Close ends the stream: readers first receive the remaining events.
func (r *Ring) Close() {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.ended = true
	r.wake()
}

func (r *Ring) wake() {
	close(r.more)
	r.more = make(chan struct{})
}

// Last returns the number of the newest event, 0 before any.
func (r *Ring) Last() uint64 {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.last
}

// Reader reads a ring from the oldest event that it holds.
type Reader struct {
	ring *Ring
	mu   sync.Mutex
	read uint64        // number of the last event handled
	next uint64        // number of the next event
	past chan struct{} // closed when one more was handled
}

// Reader returns a new reader of the ring.
func (r *Ring) Reader() *Reader { return &Reader{ring: r, next: 1, past: make(chan struct{})} }

// Each calls handle for each event, until the stream or ctx ends. missed is the number of
// events overwritten just before.
func (r *Reader) Each(ctx context.Context, handle func(e Event, missed uint64)) error {
	for {
		e, missed, err := r.take(ctx)
		if err == io.EOF {
			r.handled(e.N)
			return nil
		}
		if err != nil {
			return err
		}
		handle(e, missed)
		r.handled(e.N)
	}
}

// take waits for the next event.
func (r *Reader) take(ctx context.Context) (e Event, missed uint64, err error) {
	for {
		r.ring.mu.Lock()
		oldest := uint64(1)
		if size := uint64(len(r.ring.events)); r.ring.last >= size {
			oldest = r.ring.last - size + 1
		}
		if r.next < oldest {
			missed += oldest - r.next
			r.next = oldest
		}
		have, ended, more := r.next <= r.ring.last, r.ring.ended, r.ring.more
		if have {
			e = r.ring.events[r.next%uint64(len(r.ring.events))]
			r.next++
		}
		last := r.ring.last
		r.ring.mu.Unlock()
		switch {
		case have:
			return e, missed, nil
		case ended:
			return Event{N: last}, missed, io.EOF
		}
		select {
		case <-more:
		case <-ctx.Done():
			return e, missed, ctx.Err()
		}
	}
}

func (r *Reader) handled(n uint64) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.read = n
	close(r.past)
	r.past = make(chan struct{})
}

// CaughtUp waits until all events published before the call were handled.
func (r *Reader) CaughtUp(ctx context.Context) error {
	last := r.ring.Last()
	for {
		r.mu.Lock()
		read, past := r.read, r.past
		r.mu.Unlock()
		if read >= last {
			return nil
		}
		select {
		case <-past:
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}
