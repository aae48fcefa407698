package jig

import (
	"context"
	"time"
)

// idlePeriod is the time that Idle waits.
const idlePeriod = 20 * time.Millisecond

// Idle is a Pass for a move without sound: it waits a short time on the clock of the link
// and keeps the poller running.
func (j *Jig) Idle(ctx context.Context) error {
	j.Renew()
	j.clock.Wait(ctx, nil, j.clock.Now().Add(idlePeriod))
	return ctx.Err()
}
