package barejig

import (
	"context"
	"errors"
	"fmt"
	"math"
	"time"

	"headtrue/cmd/headtrue/app"
	"headtrue/jig"
)

// RenewWithin is how long a held button turns the screw without a renewal.
const RenewWithin = 200 * time.Millisecond

// Held is what a button that is held down says again and again: the direction in which to turn,
// +1 or -1; 0 as it is let go.
type Held int

// Nudge is a person who turns a jig by a button: the motor turns while the button is held, and
// stops as it is let go, or RenewWithin after the last renewal.
type Nudge struct {
	Held    <-chan Held // unbuffered: an old renewal is worth nothing
	MostDeg float64     // the way to each side from where the screw is now
	DegPerS float64
	// Ready is called when the motor holds, so that the person can seat the blade.
	Ready func()
}

// CheckNudge refuses a way or a speed that no person means.
func CheckNudge(mostDeg, degPerS float64) error {
	if !(mostDeg > 0 && mostDeg <= 720) {
		return app.Wrong("%g degrees: a nudge goes up to 720 degrees of screw either way", mostDeg)
	}
	if !(degPerS >= 0.2 && degPerS <= 360) {
		return app.Wrong("%g degrees of screw per second: a nudge takes 0.2 to 360", degPerS)
	}
	return nil
}

// Turn switches the motor on, turns while the button is held, until ctx ends, and switches the
// motor off.
func (n Nudge) Turn(ctx context.Context, b *jig.Jig) (err error) {
	here, err := b.Status(ctx)
	if err != nil {
		return err
	}
	const rounding = 0.5 // degrees: to whole microsteps
	most, from := jig.Degrees(n.MostDeg), here.Position
	if err := b.SetWindow(ctx, from-most-rounding, from+most+rounding); err != nil {
		return err
	}
	if err := b.Energise(ctx); err != nil {
		return err
	}
	defer func() {
		off := app.Release(context.WithoutCancel(ctx), b) // even after a stop
		err = errors.Join(err, off)
	}()
	n.Ready()
	idle := time.NewTimer(mostIdle)
	defer idle.Stop()
	asked := time.NewTicker(mostQuiet)
	defer asked.Stop()
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-idle.C:
			return fmt.Errorf("nobody has turned for %v: the motor is off", mostIdle)
		case <-asked.C: // so that an unplugged cable is noticed, and the status is fresh
			if _, err := b.Status(ctx); err != nil && ctx.Err() == nil {
				return err
			}
		case way := <-n.Held:
			if way == 0 {
				continue
			}
			target := from + jig.Degrees(math.Copysign(n.MostDeg, float64(way)))
			_, err := b.Turn(ctx, target, n.DegPerS, n.until(way))
			var stopped *jig.StoppedError
			switch {
			case ctx.Err() != nil:
				return nil
			case errors.As(err, &stopped) && stopped.Reason == jig.ReasonOrder:
				// STOP from elsewhere: it stands
			case err != nil:
				return err
			}
			idle.Reset(mostIdle)
		}
	}
}

// mostQuiet is the time between two looks at a jig that stands, and mostIdle how long the motor
// stays on while nobody turns it.
const (
	mostQuiet = 200 * time.Millisecond
	mostIdle  = 5 * time.Minute
)

// until ends a turn as the button is let go, as it says the other direction, or without a
// renewal.
func (n Nudge) until(way Held) jig.Watch {
	last := time.Now()
	return func(ctx context.Context, _ jig.Status) (enough bool, err error) {
		select {
		case now := <-n.Held:
			last = time.Now()
			return now != way, nil
		case <-time.After(app.Poll):
		case <-ctx.Done():
			return true, ctx.Err()
		}
		return time.Since(last) > RenewWithin, nil
	}
}
