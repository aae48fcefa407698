package protocol

import "fmt"

// Code is the first byte of a reply: the result of the request.
type Code uint8

// Codes of replies.
const (
	OK            Code = 0
	OutsideWindow Code = 1
	NotEnergised  Code = 2
	IsMoving      Code = 3
	BadVersion    Code = 4
	Malformed     Code = 5
	UnknownType   Code = 6
	BadValue      Code = 7
	StopHeld      Code = 8
	NoSupply      Code = 9
	IsEnergised   Code = 10
)

func (c Code) String() string {
	return name(c, "ok", "target outside the window", "motor not energised", "motor is moving",
		"version of the link does not fit", "message too short", "unknown request", "value not allowed",
		"stop input or limit switch is held", "no motor supply", "motor still has current")
}

// Memory grades how far the jig's position can be trusted.
type Memory uint8

// States of the memory.
const (
	Unknown  Memory = 0
	Doubtful Memory = 1
	Kept     Memory = 2
)

func (m Memory) String() string { return name(m, "unknown", "doubtful", "kept") }

// StopReason is the reason why the last motion ended.
type StopReason uint8

// Reasons. ReasonNone holds while the motor turns and before the first motion.
const (
	ReasonNone      StopReason = 0
	ReasonDone      StopReason = 1
	ReasonOrder     StopReason = 2
	ReasonLimit     StopReason = 3
	ReasonStopInput StopReason = 4
	ReasonStall     StopReason = 5
	ReasonFault     StopReason = 6
	ReasonSilence   StopReason = 7
	ReasonReset     StopReason = 8
)

func (r StopReason) String() string {
	return name(r, "none", "done", "stop order", "limit switch", "stop input", "stall", "driver fault",
		"silence of the host", "reset")
}

// ResetCause is the cause of the jig's last start.
type ResetCause uint8

// Causes of a reset.
const (
	CauseUnknown  ResetCause = 0
	CausePower    ResetCause = 1
	CauseExternal ResetCause = 2
	CauseWatchdog ResetCause = 3
	CauseBrownOut ResetCause = 4
)

func (c ResetCause) String() string {
	return name(c, "unknown cause", "power on", "external reset", "watchdog", "brown-out")
}

// EventKind is the first byte of an event.
type EventKind uint8

// Kinds of events: the motion has ended for this reason. They have the numbers
// of the reasons.
const (
	EventDone      = EventKind(ReasonDone)
	EventLimit     = EventKind(ReasonLimit)
	EventStopInput = EventKind(ReasonStopInput)
	EventStall     = EventKind(ReasonStall)
	EventFault     = EventKind(ReasonFault)
	EventSilence   = EventKind(ReasonSilence)
)

func (k EventKind) String() string { return StopReason(k).String() }

// Flags are bits of a status.
type Flags uint8

// Bits of Flags.
const (
	FlagMoving    Flags = 1 << 0
	FlagEnergised Flags = 1 << 1
	FlagStopHeld  Flags = 1 << 2
	FlagLimitHeld Flags = 1 << 3
	// FlagStepped: the last accepted move has made its first step.
	FlagStepped Flags = 1 << 4
	// FlagNoSupply: the motor has no supply now; only if the jig senses it.
	FlagNoSupply Flags = 1 << 5
)

// name returns the i-th of names, or the number for a value that only a newer peer uses.
func name[T ~uint8](i T, names ...string) string {
	if int(i) < len(names) {
		return names[i]
	}
	return fmt.Sprintf("number %d", uint8(i))
}
