package jig

import (
	"context"
	"time"
)

// idlePeriod is how long Idle lets go by.
const idlePeriod = 20 * time.Millisecond

// Idle is a Pass for a move beside which no sound comes any more: it lets a little time
// go by on the clock of the link, and lets the jig be asked on.
func (j *Jig) Idle(ctx context.Context) error {
	j.Renew()
	j.clock.Wait(ctx, nil, j.clock.Now().Add(idlePeriod))
	return ctx.Err()
}
