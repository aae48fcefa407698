package jig

import (
	"context"
	"fmt"
	"time"
)

// Timings of the poller.
const (
	pollPeriod = 20 * time.Millisecond
	// permitLasts is the time that the poller runs without Renew. With the 0.5 s of
	// silence that the jig allows, and the transit of the last request, the motor of a
	// hung program stands within 0.8 s.
	permitLasts = 280 * time.Millisecond
)

// mostUnanswered statuses in a row without a reply, about a second, end the session.
const mostUnanswered = statusTries

// poll runs on the clock. It asks only while the permit lasts, so the jig stops when the
// program hangs.
func (j *Jig) poll() {
	j.link.guarded(func() {
		if j.permitted() {
			j.link.poll(j.statusTimeout)
		}
	})
}

func (j *Jig) permitted() bool {
	j.mu.Lock()
	defer j.mu.Unlock()
	return !j.clock.Now().After(j.permit)
}

// Renew lets the poller ask for another 0.28 s. The control loop calls it with each block
// of sound.
func (j *Jig) Renew() {
	j.mu.Lock()
	defer j.mu.Unlock()
	j.permit = j.clock.Now().Add(permitLasts)
}

// Look returns the state for a loop that waits for the jig: the last status heard or,
// without a poller, a new one. It returns an error if the jig no longer answers.
func (j *Jig) Look(ctx context.Context) (Status, error) {
	if !j.polled {
		return j.Status(ctx)
	}
	j.Renew()
	s := j.known()
	if err := j.link.over(); err != nil {
		return s, fmt.Errorf("asking for the status: %w", err)
	}
	if n := j.link.silent(); n >= mostUnanswered {
		return s, fmt.Errorf("asking for the status: %w: %d tries of %v", ErrNoAnswer, n, j.statusTimeout)
	}
	return s, ctx.Err()
}
