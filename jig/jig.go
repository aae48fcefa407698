package jig

import (
	"sync"
	"time"

	protocol "headtrue/firmware-protocol"
)

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

// Jig is one open jig. Several goroutines may call its methods. One request is
// outstanding at a time, and Halt overtakes it.
type Jig struct {
	profile                Profile
	timeout, statusTimeout time.Duration
	clock                  Clock
	onEvent                func(StopReason)
	link                   *link
	polled, unmatched      bool
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

func (j *Jig) statusLocked() Status {
	s := j.last
	return Status{
		Position: j.profile.degrees(float64(s.Position) - float64(j.zero)),
		Target:   j.profile.degrees(float64(s.Target) - float64(j.zero)), Microsteps: s.Position,
		Moving: s.Moving(), Energised: s.Energised(), Micros: j.micros,
		StopHeld: s.Flags&protocol.FlagStopHeld != 0, LimitHeld: s.Flags&protocol.FlagLimitHeld != 0, NoSupply: s.Flags&protocol.FlagNoSupply != 0,
		Boot: s.Boot, Epoch: s.Epoch, Memory: s.Memory, Reason: s.Reason,
	}
}

// known returns the state in the last status.
func (j *Jig) known() Status {
	j.mu.Lock()
	defer j.mu.Unlock()
	return j.statusLocked()
}

// Last returns the state in the jig's last reply. It asks nothing; any goroutine may call it
// as often as it likes.
func (j *Jig) Last() Status { return j.known() }

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

// Sample is one status on both clocks: the jig's time was Micros at some time between
// Asked and Heard. Asked is zero for an event, since no request caused it.
type Sample struct {
	Micros       uint64
	Asked, Heard time.Time
}

// shaft is the encoder's angle at a count. Each move ends with a comparison of the rotor
// with it.
type shaft struct {
	watched bool
	count   int32
	angle   uint16
}
