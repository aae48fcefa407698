package app

import (
	"context"
	"errors"
	"time"

	"headtrue/jig/fault"
	"headtrue/sweep"
	"headtrue/sweep/stream"
)

// handTime is how long the program waits for a jig that seats its own blade, since nothing
// reports when it has done so.
const handTime = time.Second

// asker asks a person to do their part.
func (j *Job) asker() func(context.Context, sweep.Prompt) error {
	return func(ctx context.Context, p sweep.Prompt) error {
		return j.meanwhile(ctx, func(ctx context.Context) error { return j.hand(ctx, p) })
	}
}

// hand shows what is to be done and waits until it is done.
func (j *Job) hand(ctx context.Context, p sweep.Prompt) error {
	if err := j.watched.caughtUp(ctx); err != nil {
		return err
	}
	h := j.sitting.hands
	if h.itself {
		j.front.Note("  >> %s (nobody is asked: it counts as done after %v)", p.Text, handTime)
		select {
		case <-time.After(handTime):
			return nil
		case <-ctx.Done():
			return ctx.Err()
		}
	}
	return j.askOrHeed(ctx, p)
}

// askOrHeed asks the person, and also accepts the order that says that the part is done.
func (j *Job) askOrHeed(ctx context.Context, p stream.Prompt) error {
	asking, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	go func() { // ends with asking
		defer fault.Recovered(func(err error) { stop(err) })
		for {
			done, change := j.front.Orders.Answered(p.ID)
			if done {
				stop(errDone)
			}
			select {
			case <-change:
			case <-asking.Done():
				return
			}
		}
	}()
	_, err := j.sitting.hands.ask(asking, Part(p.Text))
	if errors.Is(context.Cause(asking), errDone) {
		return nil
	}
	return err
}
