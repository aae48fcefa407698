package jig

import (
	"context"
	"errors"
	"fmt"
	"math"
	"time"

	protocol "headtrue/firmware-protocol"
)

// Pass waits for a short time between two polls of the jig. During a run it pulls one
// block of sound; without sound it waits on a clock. If it returns an error, the screw is
// stopped.
type Pass func(ctx context.Context) error

// Every is a Pass that waits for a time on the wall clock.
func Every(d time.Duration) Pass {
	return func(ctx context.Context) error {
		Wall.Wait(ctx, nil, Wall.Now().Add(d))
		return ctx.Err()
	}
}

// overdue is the margin on the computed time of a move.
const overdue = 2 * time.Second

// standPatience is the margin on the computed time of a stop ramp.
const standPatience = time.Second

// Start orders a move and does not wait for it. It rounds target to a microstep. After
// any error other than a refusal the move may have begun, so Start halts the jig.
func (j *Jig) Start(ctx context.Context, target Degrees) error {
	_, err := j.start(ctx, target, j.profile.SpeedDegPerS, j.link.order())
	return err
}

func (j *Jig) start(ctx context.Context, target Degrees, degPerS float64, o *order) (Status, error) {
	count := math.Round(j.count(target))
	what := fmt.Sprintf("a move to %.2f degrees", target)
	if clamped := clamp(count); float64(clamped) != count || math.IsNaN(count) {
		s := j.known()
		return s, &RefusedError{Request: what, Code: OutsideWindow, Status: s}
	}
	m := protocol.Move{Target: int32(count), Speed: j.profile.speed(degPerS, uint16(j.greeting.MaxSpeed))}
	j.mu.Lock()
	j.track.order(leg{from: j.last.Position, to: m.Target, speed: float64(m.Speed), accel: float64(j.greeting.Accel), ordered: j.micros})
	j.mu.Unlock()
	s, err := j.ask(ctx, what, protocol.TypeMove, m.Append(nil), o)
	var refused *RefusedError
	if err != nil && !errors.As(err, &refused) {
		return j.abandon(s, err)
	}
	return s, err
}

// Wait polls the jig after each pass until the screw stands, and returns nil if it then
// stands at its target. Otherwise it returns a *StoppedError or an error of the link.
// When ctx ends or pass fails, Wait halts the jig and then returns that error. If the jig
// has an encoder on its shaft, Wait returns a *LostStepsError when the shaft did not
// follow.
func (j *Jig) Wait(ctx context.Context, pass Pass) (Status, error) {
	s, err := j.Look(ctx)
	return j.watch(ctx, s, err, j.profile.SpeedDegPerS, pass.watch)
}

// watch is the pass as a Watch that never reports enough.
func (p Pass) watch(ctx context.Context, _ Status) (bool, error) { return false, p(ctx) }

// Watch waits for a short time while the screw turns, as Pass does. It receives the last
// status of the jig and returns enough to end the move there.
type Watch func(ctx context.Context, s Status) (enough bool, err error)

// Turn turns the screw towards target at a speed in degrees per second. A speed of 0, or
// above the profile's, means the profile's. Turn returns when the screw stands: at
// target, or at rest after watch returned true. Errors are those of Wait.
func (j *Jig) Turn(ctx context.Context, target Degrees, degPerS float64, watch Watch) (Status, error) {
	if most := j.profile.SpeedDegPerS; degPerS <= 0 || most > 0 && degPerS > most {
		degPerS = most
	}
	return j.drive(ctx, target, degPerS, j.link.order(), watch)
}

// drive orders a move and waits for it. If the jig stopped because the line was silent
// for too long, drive repeats the order once: the jig has kept its count.
func (j *Jig) drive(ctx context.Context, target Degrees, degPerS float64, o *order, watch Watch) (Status, error) {
	for again := false; ; again = true {
		s, err := j.start(ctx, target, degPerS, o)
		if err == nil {
			s, err = j.Look(ctx) // a poll may be later than the reply to the order
			s, err = j.watch(ctx, s, err, degPerS, watch)
		}
		var stopped *StoppedError
		if again || !errors.As(err, &stopped) || stopped.Reason != ReasonSilence || s.Memory != Kept {
			return s, err
		}
	}
}

// watch waits until the jig stands; s is its last state.
func (j *Jig) watch(ctx context.Context, s Status, err error, degPerS float64, watch Watch) (Status, error) {
	limit := s.Micros + uint64(j.longest(s, degPerS).Microseconds())
	ended := false
	for err == nil && s.Moving {
		if s.Micros > limit {
			err = fmt.Errorf("%w: at %.2f degrees on the way to %.2f", ErrOverdue, s.Position, s.Target)
			break
		}
		var enough bool
		if enough, err = watch(ctx, s); err == nil && enough && !ended {
			ended, err = true, j.Halt()
		}
		if err == nil {
			s, err = j.Look(ctx)
		}
	}
	switch {
	case err != nil:
		return j.abandon(s, err)
	case ended && s.Reason == ReasonOrder, s.Reason == ReasonDone && s.Position == s.Target:
		return s, j.checkShaft(ctx, s, watch)
	}
	return s, &StoppedError{Reason: s.Reason, Status: s}
}

// standPoll is the time between two polls of a jig that ramps down, if pass cannot wait.
const standPoll = 10 * time.Millisecond

// StandStill polls the jig after each pass until it stands, for example after Halt. If
// pass fails, it waits on the wall clock instead. It returns ErrOverdue if the jig still
// turns one second after it should stand.
func (j *Jig) StandStill(ctx context.Context, pass Pass) (Status, error) {
	ramp := float64(j.greeting.MaxSpeed) / float64(max(j.greeting.Accel, 1))
	within, cancel := context.WithTimeout(ctx, time.Duration(ramp*float64(time.Second))+standPatience)
	defer cancel()
	for {
		s, err := j.Status(ctx)
		if err != nil || !s.Moving {
			return s, err
		}
		if within.Err() != nil {
			return s, fmt.Errorf("%w: at %.2f degrees it still turns after STOP", ErrOverdue, s.Position)
		}
		if pass(within) != nil {
			_ = Every(standPoll)(within) // the loop checks its end above
		}
	}
}

// abandon halts the jig because of err.
func (j *Jig) abandon(s Status, err error) (Status, error) {
	var reset *ResetError
	if errors.As(err, &reset) {
		return reset.Status, err // its motor is off
	}
	if halt := j.Halt(); halt != nil && !errors.Is(halt, ErrLinkLost) {
		err = errors.Join(err, halt)
	}
	return s, err
}

// longest returns the greatest time that the rest of a move may take: the distance at its
// speed in degrees per second, a ramp at each end, and a margin.
func (j *Jig) longest(s Status, degPerS float64) time.Duration {
	g, p := j.greeting, j.profile
	way := math.Abs(p.microsteps(s.Target - s.Position))
	accel := float64(g.Accel)
	if a := math.Abs(p.microsteps(Degrees(p.AccelDegPerS2))); a > 0 && a < accel {
		accel = a
	}
	speed := float64(p.speed(degPerS, uint16(g.MaxSpeed)))
	seconds := way/speed + 2*speed/accel
	return time.Duration(seconds*float64(time.Second)) + overdue
}

// MoveTo moves to target and waits for the end of the move; see Start and Wait.
func (j *Jig) MoveTo(ctx context.Context, target Degrees, pass Pass) (Status, error) {
	return j.moveTo(ctx, target, pass, j.link.order())
}

func (j *Jig) moveTo(ctx context.Context, target Degrees, pass Pass, o *order) (Status, error) {
	return j.drive(ctx, target, j.profile.SpeedDegPerS, o, pass.watch)
}

// ArriveAt moves to target so that the screw arrives from its home side with the backlash
// taken up: it turns at least OvershootDegrees in the home direction, now or in the moves
// just before. If a direct move does not do that, the screw first goes OvershootDegrees
// beyond.
func (j *Jig) ArriveAt(ctx context.Context, target Degrees, pass Pass) (Status, error) {
	o := j.link.order()
	if !j.direct(target) {
		beyond := target - Degrees(j.profile.HomeSide)*j.profile.OvershootDegrees
		if s, err := j.moveTo(ctx, beyond, pass, o); err != nil {
			return s, err
		}
	}
	return j.moveTo(ctx, target, pass, o)
}

// direct reports whether a move straight to target ends in the home direction with the
// backlash taken up.
func (j *Jig) direct(target Degrees) bool {
	j.mu.Lock()
	defer j.mu.Unlock()
	p := j.profile
	count := math.Round(float64(j.zero) + p.microsteps(target))
	way := (count - float64(j.last.Position)) * float64(p.Direction*p.HomeSide)
	need := math.Floor(math.Abs(p.microsteps(p.OvershootDegrees)))
	return way >= 0 && j.homeRun+way >= need
}

// shaftLooks is the number of repeated looks at the encoder before steps are called lost:
// its reading is some milliseconds old.
const shaftLooks = 6

// checkShaft compares the shaft with the count when the motor stands.
func (j *Jig) checkShaft(ctx context.Context, s Status, pass Watch) error {
	j.mu.Lock()
	seen := j.shaft
	j.mu.Unlock()
	if !seen.watched {
		return nil
	}
	for look := 0; ; look++ {
		i, err := j.Inspect(ctx)
		if err != nil || i.Encoder != protocol.EncoderOK {
			return err // without a reading there is no evidence of an error
		}
		ahead := j.Ahead(seen.angle, i.Angle, float64(s.Microsteps)-float64(seen.count))
		if 2*math.Abs(ahead) < float64(RoundFullSteps*j.profile.Microsteps) {
			return nil
		}
		if look == shaftLooks {
			return &LostStepsError{Microsteps: int(math.Round(ahead)), Status: s}
		}
		if _, err := pass(ctx, s); err != nil {
			return err
		}
	}
}
