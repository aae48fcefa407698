package jig

import (
	"context"
	"errors"
	"fmt"
	"math"
	"time"

	protocol "headtrue/firmware-protocol"
)

// ask sends a request and returns the state after it; what names it in errors.
func (j *Jig) ask(ctx context.Context, what string, t protocol.Type, body []byte, o *order) (Status, error) {
	var a answer
	var err error
	if t == protocol.TypeStatus {
		a, err = j.askStatus(ctx)
	} else {
		a, err = j.link.request(ctx, t, body, o, j.timeout, replyTries)
	}
	if errors.Is(err, errHalted) {
		s := j.known()
		return s, &StoppedError{Reason: ReasonOrder, Status: s}
	}
	if err != nil {
		return j.known(), fmt.Errorf("%s: %w", what, err)
	}
	s := j.known()
	if a.reply.Code != protocol.OK {
		return s, &RefusedError{Request: what, Code: a.reply.Code, Status: s}
	}
	return s, nil
}

// askStatus asks for the status, with a new request each time, until a reply comes.
func (j *Jig) askStatus(ctx context.Context) (a answer, err error) {
	for range statusTries {
		a, err = j.link.request(ctx, protocol.TypeStatus, nil, nil, j.statusTimeout, 1)
		if !errors.Is(err, ErrNoAnswer) {
			return a, err
		}
	}
	return a, fmt.Errorf("%w: %d tries of %v", ErrNoAnswer, statusTries, j.statusTimeout)
}

// Status asks the jig for its state.
func (j *Jig) Status(ctx context.Context) (Status, error) {
	return j.ask(ctx, "asking for the status", protocol.TypeStatus, nil, nil)
}

// Declare sets the absolute count of the standing jig to microsteps. Its memory becomes
// kept, and a new epoch begins.
func (j *Jig) Declare(ctx context.Context, microsteps int32) error {
	if _, err := j.ask(ctx, fmt.Sprintf("to declare its position as %d", microsteps),
		protocol.TypeDeclare, protocol.Declare{Position: microsteps}.Append(nil), nil); err != nil {
		return err
	}
	return j.watchShaft(ctx)
}

// SetWindow sets the range of targets that the firmware allows. The jig keeps it, in
// absolute counts, until it is set again or the power fails.
func (j *Jig) SetWindow(ctx context.Context, lo, hi Degrees) error {
	a, b := j.count(lo), j.count(hi)
	w := protocol.Window{Lo: clamp(math.Ceil(math.Min(a, b) - 1e-6)), Hi: clamp(math.Floor(math.Max(a, b) + 1e-6))}
	what := fmt.Sprintf("a window of %.2f to %.2f degrees", lo, hi)
	if lo > hi {
		return &RefusedError{Request: what, Code: protocol.BadValue, Status: j.known()}
	}
	_, err := j.ask(ctx, what, protocol.TypeSetWindow, w.Append(nil), nil)
	return err
}

// Energise switches the motor's current on. The rotor may jump by up to two
// full steps.
func (j *Jig) Energise(ctx context.Context) error {
	if _, err := j.ask(ctx, "to energise the motor", protocol.TypeEnergise, protocol.Energise{On: true}.Append(nil), nil); err != nil {
		return err
	}
	return j.watchShaft(ctx)
}

// Release switches the motor's current off. The motor must stand.
func (j *Jig) Release(ctx context.Context) error {
	_, err := j.ask(ctx, "to release the motor", protocol.TypeEnergise, protocol.Energise{}.Append(nil), nil)
	return err
}

// Halt orders STOP: the motor ramps down and stands, and the position stays known. It may
// be called at any time and from any goroutine, also while other calls wait. It overtakes
// an outstanding request, and no motion ordered before it begins after it. It returns
// when the jig has taken the order, after 1 s at the latest. After a *RefusedError,
// ErrNoAnswer or ErrLinkLost the motor may turn on; the jig's own watchdog stops it once
// the line is silent.
func (j *Jig) Halt() error {
	err := j.link.stop(stopTimeout, stopTries)
	var refused *RefusedError
	if errors.As(err, &refused) {
		refused.Status = j.known()
	}
	return err
}

// Close halts the jig and closes the line. The motor stays energised if it was. Close
// waits at most two seconds, and may be called again.
func (j *Jig) Close() error {
	var err error
	j.close.Do(func() {
		if j.known().Energised {
			_ = j.link.stop(stopTimeout, 2) // the jig's watchdog stops it in any case
		}
		err = j.end()
	})
	return err
}

// end closes the line and waits for the goroutines, but not for a write that hangs in the
// operating system.
func (j *Jig) end() error {
	j.stopPolling()
	j.link.fail(ErrClosed)
	err := j.link.rwc.Close()
	done := make(chan struct{})
	go func() { j.link.tasks.Wait(); close(done) }() // ends with reader and writer
	select {
	case <-done:
	case <-time.After(closeTimeout):
	}
	return err
}

// count returns the absolute count of an angle, not rounded.
func (j *Jig) count(d Degrees) float64 {
	return float64(j.Zero()) + j.profile.microsteps(d)
}

func clamp(count float64) int32 {
	return int32(math.Max(math.MinInt32, math.Min(math.MaxInt32, count)))
}
