package barejig

import (
	"context"
	"errors"
	"fmt"
	"math"
	"sync"
	"time"

	"headtrue/cmd/headtrue/app"
	"headtrue/jig"
)

// RenewWithin is how long a held button turns the screw without a renewal.
const RenewWithin = 200 * time.Millisecond

// Button is a button that turns the screw while it is held down. It may be pressed from any
// goroutine. The zero value is not held.
type Button struct {
	mu      sync.Mutex
	way     int // +1 or -1; 0 as it is let go
	since   time.Time
	stopped bool // it turns nothing until it has been let go
}

// Hold presses the button, or renews it, for a direction of +1 or -1. One that is still held from
// before a stop turns nothing.
func (b *Button) Hold(way int) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.stopped = b.stopped && time.Since(b.since) <= RenewWithin; b.stopped {
		way = 0
	}
	b.way, b.since = way, time.Now()
}

// LetGo lets the button go.
func (b *Button) LetGo() { b.release(false) }

// Stop takes the effect from a button until it has been let go and is pressed anew.
func (b *Button) Stop() { b.release(true) }

func (b *Button) release(stopped bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.way, b.since, b.stopped = 0, time.Now(), stopped
}

// held returns the direction for which the button is held; 0 is none, also if nobody has renewed
// it in time.
func (b *Button) held() int {
	b.mu.Lock()
	defer b.mu.Unlock()
	if time.Since(b.since) > RenewWithin {
		return 0
	}
	return b.way
}

// Nudge is a person who turns a jig by a button.
type Nudge struct {
	Button  *Button
	MostDeg float64 // the way to each side from its present place
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
	most, from := jig.Degrees(n.MostDeg), here.Position
	off, err := app.Hold(ctx, b, from-most, from+most)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, off()) }()
	n.Ready()
	looks := time.NewTicker(app.Poll)
	defer looks.Stop()
	for turned := time.Now(); ; {
		select {
		case <-ctx.Done():
			return nil
		case <-looks.C:
		}
		way := n.Button.held()
		if way == 0 {
			if time.Since(turned) > app.MostIdle {
				return fmt.Errorf("nobody has turned for %v: the motor is off", app.MostIdle)
			}
			if _, err := b.Status(ctx); err != nil && ctx.Err() == nil {
				return err // so that an unplugged cable is noticed
			}
			continue
		}
		target := from + jig.Degrees(math.Copysign(n.MostDeg, float64(way)))
		_, err := b.Turn(ctx, target, n.DegPerS, n.until(way))
		var stopped *jig.StoppedError
		switch {
		case ctx.Err() != nil:
			return nil
		case errors.As(err, &stopped) && stopped.Reason == jig.ReasonOrder:
			n.Button.Stop() // STOP from elsewhere: it stands, though the button may still be held
		case err != nil:
			return err
		}
		turned = time.Now()
	}
}

// until ends a turn as the button is let go, or held for the other direction.
func (n Nudge) until(way int) jig.Watch {
	return func(ctx context.Context, _ jig.Status) (enough bool, err error) {
		if n.Button.held() != way {
			return true, nil
		}
		return false, jig.Every(app.Poll)(ctx)
	}
}
