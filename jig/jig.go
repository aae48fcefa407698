package jig

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"sync"
	"time"

	protocol "headtrue/firmware-protocol"
)

// Status is the state of the jig in its last reply.
type Status struct {
	Position, Target  Degrees
	Microsteps        int32
	Moving, Energised bool
	// StopHeld and LimitHeld report whether the stop input, or a limit, is held now.
	StopHeld, LimitHeld bool
	// Micros is the jig's time since it started, in microseconds. It does not wrap if the
	// jig is asked at least once in 71 minutes.
	Micros uint64
	Boot   uint16
	Epoch  uint16
	Memory Memory
	Reason StopReason
}

// Greeting is the jig's description of itself at Open.
type Greeting struct {
	// Firmware is its name and version; Protocol is the version of the link.
	Firmware, Protocol     string
	BootCount              uint16
	Cause                  ResetCause
	Memory                 Memory
	PositionMicrosteps     int32
	Epoch                  uint16
	MicrostepsPerMotorTurn int
	// MaxSpeed and StartStop are microsteps per second, Accel per second squared.
	MaxSpeed, Accel, StartStop int
	CurrentMilliamps           int
	WindowLo, WindowHi         int32 // microsteps
	Features                   Features
}

// Timings of the link that hold unless an Option says otherwise.
const (
	replyTimeout = 100 * time.Millisecond
	replyTries   = 10
	// A status has no effect, so a new one is better than a repeat.
	statusTimeout = 60 * time.Millisecond
	statusTries   = 16
	stopTimeout   = 100 * time.Millisecond
	stopTries     = 10
	greetTimeout  = 250 * time.Millisecond
	greetTries    = 12
	closeTimeout  = time.Second
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

// Jig is one open jig. Several goroutines may call its methods. One request is
// outstanding at a time, and Halt overtakes it.
type Jig struct {
	profile                Profile
	timeout, statusTimeout time.Duration
	clock                  Clock
	onEvent                func(StopReason)
	link                   *link
	polled                 bool
	stopPolling            func()

	greeting Greeting
	close    sync.Once

	mu      sync.Mutex
	greeted bool // boot counts are watched once this is set
	zero    int32
	last    protocol.Status
	micros  uint64 // of last, unwrapped
	travel  float64
	shaft   shaft
	homeRun float64 // microsteps in the home direction since the last move away
	track   track
	samples []Sample // heard and not yet returned by Heard
	permit  time.Time
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
	if want := j.profile.StepsPerTurn * j.profile.Microsteps; int(g.MicrostepsPerMotorTurn) != want {
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

// heard takes the status of a frame from the jig and the request that it answers. The
// request is nil for an event and for a reply to no waiting request. The reader calls it.
func (j *Jig) heard(s protocol.Status, to *await) error {
	j.mu.Lock()
	defer j.mu.Unlock()
	if !j.greeted {
		return nil
	}
	if s.Boot != j.last.Boot {
		e := &ResetError{Before: j.last.Boot, After: s.Boot, Cause: s.Cause}
		j.last, j.micros = s, uint64(s.Micros)
		e.Status = j.statusLocked()
		return e
	}
	later := s.Micros - j.last.Micros
	if wrappedEarly(j.last.Micros, s.Micros) {
		later -= earlyWrap
	} else if to == nil && int32(later) < 0 {
		return nil // an old frame that came twice
	}
	j.micros += uint64(later)
	if s.Epoch == j.last.Epoch {
		j.turned(float64(s.Position) - float64(j.last.Position))
	} else {
		j.homeRun = 0
		j.track = track{}
	}
	if s.Energised() != j.last.Energised() {
		j.homeRun = 0 // the rotor may have jumped
	}
	j.last = s
	j.follow(s, to)
	return nil
}

// earlyWrap is the value at which the time of firmware 1.0 wraps, in microseconds: that
// firmware counted half microseconds in 32 bits.
const earlyWrap = 1 << 31

// wrappedEarly reports whether the time went back at the early wrap. It needs at least
// one status in ten seconds.
func wrappedEarly(before, now uint32) bool {
	const near = 10e6
	return before < earlyWrap && before >= earlyWrap-near && now < near
}

func (j *Jig) turned(microsteps float64) {
	j.travel += math.Abs(microsteps)
	home := microsteps * float64(j.profile.Direction*j.profile.HomeSide)
	if home < 0 {
		j.homeRun = 0
	} else {
		j.homeRun += home
	}
}

func (j *Jig) statusLocked() Status {
	s := j.last
	return Status{
		Position: j.profile.degrees(float64(s.Position) - float64(j.zero)),
		Target:   j.profile.degrees(float64(s.Target) - float64(j.zero)), Microsteps: s.Position,
		Moving: s.Moving(), Energised: s.Energised(), Micros: j.micros,
		StopHeld: s.Flags&protocol.FlagStopHeld != 0, LimitHeld: s.Flags&protocol.FlagLimitHeld != 0,
		Boot: s.Boot, Epoch: s.Epoch, Memory: s.Memory, Reason: s.Reason,
	}
}

// known returns the state in the last status.
func (j *Jig) known() Status {
	j.mu.Lock()
	defer j.mu.Unlock()
	return j.statusLocked()
}

// Greeting returns the jig's answer at Open.
func (j *Jig) Greeting() Greeting { return j.greeting }

// Profile returns the profile given to Open, with its defaults filled in.
func (j *Jig) Profile() Profile { return j.profile }

// SetZero sets the absolute count that is 0 degrees.
func (j *Jig) SetZero(microsteps int32) {
	j.mu.Lock()
	defer j.mu.Unlock()
	j.zero = microsteps
}

// Zero returns the absolute count that is 0 degrees.
func (j *Jig) Zero() int32 {
	j.mu.Lock()
	defer j.mu.Unlock()
	return j.zero
}

// Travel returns the sum of all turning of the screw since Open, in both directions, as
// far as the jig's replies showed it.
func (j *Jig) Travel() Degrees {
	j.mu.Lock()
	defer j.mu.Unlock()
	return Degrees(j.travel * 360 / j.profile.MicrostepsPerTurn())
}
