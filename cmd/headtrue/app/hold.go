package app

import (
	"context"
	"errors"
	"fmt"
	"math"
	"time"

	"headtrue/cmd/headtrue/app/cautions"
	"headtrue/jig"
	"headtrue/sweep/session"
)

// Poll is the interval at which a jig that is turned by hand is read.
const Poll = 20 * time.Millisecond

// A key that is held down repeats: first after up to a second, then many times a second
// (the settings of terminals; common practice, no source). A longer gap between two means
// that the key was released.
const (
	firstRepeat = 800 * time.Millisecond
	nextRepeat  = 200 * time.Millisecond
)

// holding detects when a key is released.
type holding struct {
	last  time.Time
	again bool // the key has repeated
}

func (h *holding) key(now time.Time) {
	h.again = !h.last.IsZero()
	h.last = now
}

func (h *holding) letGo(now time.Time) bool {
	if h.again {
		return now.Sub(h.last) > nextRepeat
	}
	return now.Sub(h.last) > firstRepeat
}

// ConfirmTurn shows the cautions and asks before a turn by hand.
func ConfirmTurn(ctx context.Context, front Front, deg float64) error {
	question := fmt.Sprintf("%s\nThe screw is to turn by %+.1f degrees. Go on?", cautions.Before(cautions.ByHand, math.Abs(deg)), deg)
	if err := cautions.Accept(ctx, Cautiously(front.Ask), question); err != nil {
		return NotBegun("%w", err)
	}
	return nil
}

// MostIdle is how long the motor stays on while nobody turns it by hand. The jig itself switches the
// motor off after twice that time without a frame.
const MostIdle = 5 * time.Minute

// Hand is a person who turns a jig by holding a key down.
type Hand struct {
	// Keys are the keys as they are typed: the space bar turns the screw as long as it
	// repeats, any other key ends the turn.
	Keys <-chan byte
	// Seat is called when the motor holds, so that the person can seat the blade.
	Seat func()
	// At is called while the screw turns, with the degrees turned.
	At   func(deg float64)
	Note func(format string, args ...any)
}

// Turn turns a screw by up to deg degrees while the key is held down, then switches the
// motor off.
func (h Hand) Turn(ctx context.Context, b *jig.Jig, deg, degPerS float64) (s jig.Status, err error) {
	off, err := Hold(ctx, b, jig.Degrees(math.Min(0, deg)), jig.Degrees(math.Max(0, deg)))
	if err != nil {
		return s, err
	}
	defer func() {
		if failed := off(); failed != nil && err == nil {
			err = failed
		}
	}()
	h.Seat()
	for {
		select {
		case <-ctx.Done():
			return s, ctx.Err()
		case <-time.After(MostIdle):
			h.Note("no key for %v: it ends here", MostIdle)
			return b.Status(ctx)
		case key, open := <-h.Keys:
			if !open || key != ' ' {
				return b.Status(ctx)
			}
		}
		s, err = b.Turn(ctx, jig.Degrees(deg), degPerS, h.until())
		if err != nil || s.Position == s.Target {
			return s, err
		}
	}
}

// until returns the condition that ends a turn begun by a key press: the key was released,
// or another key came.
func (h Hand) until() func(context.Context, jig.Status) (bool, error) {
	held := holding{}
	held.key(time.Now())
	return func(ctx context.Context, at jig.Status) (bool, error) {
		h.At(float64(at.Position))
		select {
		case key, open := <-h.Keys:
			if !open || key != ' ' {
				return true, nil
			}
			held.key(time.Now())
		case <-time.After(Poll):
		case <-ctx.Done():
			return true, ctx.Err()
		}
		return held.letGo(time.Now()), nil
	}
}

// Hold opens the window from lo to hi and switches the motor on. off switches it off again, even
// after ctx has ended.
func Hold(ctx context.Context, b *jig.Jig, lo, hi jig.Degrees) (off func() error, err error) {
	const rounding = 0.5 // degrees: to whole microsteps
	if err := b.SetWindow(ctx, lo-rounding, hi+rounding); err != nil {
		return nil, err
	}
	if err := b.Energise(ctx); err != nil {
		return nil, err
	}
	return func() error { return Release(context.WithoutCancel(ctx), b) }, nil
}

// Release stops the motor, waits until it stands, and switches it off.
func Release(ctx context.Context, b *jig.Jig) error {
	if err := b.Halt(); err != nil {
		return err
	}
	if _, err := b.StandStill(ctx, jig.Every(Poll)); err != nil {
		return err
	}
	return b.Release(ctx)
}

// LinkFailure adds an outcome to an error of the jig or its link; a Failure is unchanged.
func LinkFailure(err error) error {
	var f *Failure
	if errors.As(err, &f) {
		return err
	}
	end := session.EndOf(err)
	return &Failure{Outcome: end.Outcome, Err: err, Do: end.Do}
}
