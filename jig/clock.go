package jig

import (
	"context"
	"time"
)

// Clock is the time base of the link: the machine's own clock, or simulated time when the
// jig is virtual and runs in lock-step with its host.
type Clock interface {
	// Now returns the present time. It never goes back.
	Now() time.Time
	// Wait returns when ready is closed, when ctx ends or at the time until, whichever
	// comes first.
	Wait(ctx context.Context, ready <-chan struct{}, until time.Time)
	// Every calls poll once a period until stop is called. No call begins after stop has
	// returned. poll must not wait for anything.
	Every(period time.Duration, poll func()) (stop func())
	// Attach registers a function that reports whether the link has written everything.
	// Simulated time stands still until it has.
	Attach(quiet func() bool)
}

// Wall is the machine's own monotonic clock.
var Wall Clock = wall{}

type wall struct{}

func (wall) Attach(func() bool) {}

func (wall) Now() time.Time { return time.Now() }

func (wall) Wait(ctx context.Context, ready <-chan struct{}, until time.Time) {
	timer := time.NewTimer(time.Until(until))
	defer timer.Stop()
	select {
	case <-ready:
	case <-ctx.Done():
	case <-timer.C:
	}
}

// Every starts its own goroutine, which ends with stop.
func (wall) Every(period time.Duration, poll func()) (stop func()) {
	ended, done := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(done)
		ticker := time.NewTicker(period)
		defer ticker.Stop()
		for {
			select {
			case <-ended:
				return
			case <-ticker.C:
				poll()
			}
		}
	}()
	return func() { close(ended); <-done }
}
