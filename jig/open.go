package jig

import (
	"context"
	"errors"
	"fmt"
	"io"
	"time"

	protocol "headtrue/firmware-protocol"
)

// Option changes how a Jig is opened.
type Option func(*Jig)

// ReplyTimeout sets how long to wait for a reply before the request is repeated, for
// tests on a busy machine. The default is 60 ms for a status and 100 ms for all others.
func ReplyTimeout(d time.Duration) Option {
	return func(j *Jig) { j.timeout, j.statusTimeout = d, d }
}

// Polled makes the clock c ask the jig for its status every 20 ms, as long as the caller
// renews its permit (Renew). Heard and At return the results, and Wait uses them instead
// of asking. The link's own timeouts use the same clock.
func Polled(c Clock) Option { return func(j *Jig) { j.clock, j.polled = c, true } }

// OnEvent sets the function that receives each event, which is the reason why a motion
// ended. The reader goroutine calls it; it must return at once.
func OnEvent(f func(StopReason)) Option {
	return func(j *Jig) { j.onEvent = f }
}

// Open takes over the line, greets the jig and checks its version of the link and its
// profile. It waits up to 3 s for a boot loader to finish. Nothing moves. On error it
// closes the line. Errors: ErrNoAnswer, ErrVersion, ErrMismatch, ErrLinkLost.
func Open(ctx context.Context, rwc io.ReadWriteCloser, p Profile, options ...Option) (*Jig, error) {
	j := &Jig{profile: p.filled(), timeout: replyTimeout, statusTimeout: statusTimeout, clock: Wall, stopPolling: func() {}}
	for _, option := range options {
		option(j)
	}
	j.link = newLink(rwc, j.clock, j.heard, func(e protocol.Event) {
		if j.onEvent != nil {
			j.onEvent(StopReason(e.Kind))
		}
	})
	if err := j.greet(ctx); err != nil {
		j.end()
		return nil, fmt.Errorf("opening the jig: %w", err)
	}
	if j.polled {
		j.stopPolling = j.clock.Every(pollPeriod, j.poll)
	}
	return j, nil
}

// greet sends HELLO until the boot count of an answer still holds in the next status: the
// line may hold bytes of an earlier session, and opening the port may have reset the
// board.
func (j *Jig) greet(ctx context.Context) error {
	for range greetTries {
		a, err := j.link.request(ctx, protocol.TypeHello,
			protocol.Hello{Major: protocol.Major, Minor: protocol.Minor}.Append(nil), nil, greetTimeout, 1)
		if errors.Is(err, ErrNoAnswer) {
			continue
		}
		if err != nil {
			return err
		}
		if err := j.check(a); err != nil {
			return err
		}
		a, err = j.askStatus(ctx)
		if err == nil && a.reply.Status.Boot == j.greeting.BootCount {
			j.settle(a.reply.Status)
			return nil
		}
		if err != nil && !errors.Is(err, ErrNoAnswer) {
			return err
		}
	}
	return fmt.Errorf("%w to %d greetings", ErrNoAnswer, greetTries)
}

func (j *Jig) check(a answer) error {
	r, g, err := protocol.ParseGreeting(a.body)
	if err != nil {
		return fmt.Errorf("%w: its greeting cannot be read: %v", ErrVersion, err)
	}
	if r.Code == protocol.BadVersion || g.Major != protocol.Major {
		return fmt.Errorf("%w: %d.%d, this program speaks %d.%d", ErrVersion, g.Major, g.Minor, protocol.Major, protocol.Minor)
	}
	if want := j.profile.StepsPerTurn * j.profile.Microsteps; int(g.MicrostepsPerMotorTurn) != want && !j.unmatched {
		return fmt.Errorf("%w %q: it makes %d microsteps per motor turn, the profile says %d x %d = %d",
			ErrMismatch, j.profile.Name, g.MicrostepsPerMotorTurn, j.profile.StepsPerTurn, j.profile.Microsteps, want)
	}
	s := r.Status
	j.greeting = Greeting{
		Firmware:  fmt.Sprintf("%s %d.%d", g.Firmware, g.FirmwareMajor, g.FirmwareMinor),
		Protocol:  fmt.Sprintf("%d.%d", g.Major, g.Minor),
		BootCount: s.Boot, Cause: s.Cause, Memory: s.Memory, PositionMicrosteps: s.Position, Epoch: s.Epoch,
		MicrostepsPerMotorTurn: int(g.MicrostepsPerMotorTurn),
		MaxSpeed:               int(g.MaxSpeed), Accel: int(g.Accel), StartStop: int(g.StartStop),
		CurrentMilliamps: int(g.CurrentMilliamps), WindowLo: g.Window.Lo, WindowHi: g.Window.Hi, Features: g.Features,
	}
	return nil
}

// settle makes s the first state of the session.
func (j *Jig) settle(s protocol.Status) {
	j.mu.Lock()
	defer j.mu.Unlock()
	j.greeted = true
	j.zero, j.last, j.micros = s.Position, s, uint64(s.Micros)
	j.travel, j.homeRun = 0, 0
}
