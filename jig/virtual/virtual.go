// Package virtual is a jig in software. It answers the link as a board with firmware
// does, and turns a shaft that a virtual bench can observe.
//
// It owns the firmware's behaviour: window, ramps, memory, watchdog, refusals, and the
// faults that a test orders. It does not depend on degrees of screw, sound, or the host's
// side of the link. Its clock moves only by Advance, counted in frames of sound. Motion,
// watchdog and events follow that clock and never the wall clock, so a run in lock-step
// repeats exactly. The division of Advance into chunks makes no difference.
package virtual

import (
	"math"
	"sync"

	protocol "headtrue/firmware-protocol"
)

// Options set the properties of the board and the motor. Zero fields take the value in
// brackets. Angles are microsteps, speeds microsteps per second.
type Options struct {
	MicrostepsPerMotorTurn int // [3200]
	MaxSpeed               int // [1600], at most 65535
	Accel                  int // microsteps per second squared [8000]
	StartStop              int // [800]
	Rate                   int // frames per second of the clock [48000]
	Faults                 []Fault
	// NoResetOnOpen makes a board that does not reset when its port is opened.
	NoResetOnOpen bool
	// Encoder adds an encoder on the motor's shaft.
	Encoder bool
	// Late sets the delays of the board and the errors of the line.
	Late Lateness
}

func (o Options) filled() Options {
	fill := func(field *int, value int) {
		if *field == 0 {
			*field = value
		}
	}
	fill(&o.MicrostepsPerMotorTurn, 3200)
	fill(&o.MaxSpeed, 1600)
	fill(&o.Accel, 8000)
	fill(&o.StartStop, 800)
	fill(&o.Rate, 48000)
	return o
}

// Shaft is the state of the motor's shaft.
type Shaft struct {
	// Microsteps is the position of the motor's field relative to its position when the
	// jig was made. Unlike the jig's own count it survives every reset and fault.
	Microsteps float64
	Energised  bool
	Moving     bool
	// Stepping reports whether a step was made in the last 10 ms.
	Stepping bool
}

// Jig is a virtual jig. Several goroutines may call its methods.
type Jig struct {
	mu    sync.Mutex
	opt   Options
	lines map[*line]struct{}

	frame, bootFrame int64 // now, and when the jig last started
	lastHeard        int64 // frame of the last good request
	lastStep         int64 // frame of the last step
	shaft, travelled int64 // microsteps: physical position, and distance made
	slip             int64 // microsteps still to be lost

	nv        memory // survives a reset; see LINK.md
	energised bool
	stopHeld  bool
	supplyCut bool
	hung      bool
	noisy     int // frames still to be garbled
	target    int32
	reason    protocol.StopReason
	cause     protocol.ResetCause
	motion    *motion // nil while standing
	stepped   bool    // the last move taken has made a step
	firstStep int64   // frame of the first one
	last      request // to recognise a repeated request
	stops     stops
	hostMinor uint8 // of the last hello; a host that has said none is a new one
	eventSeq  uint8
	faults    []Fault // still to come

	late        lateness
	taken, sent int64 // bytes, of all lines
}

// memory is the content of the board's non-volatile memory.
type memory struct {
	boot, epoch uint16
	position    int32
	window      protocol.Window
	memory      protocol.Memory
	settings    protocol.Settings
}

// New makes a jig at its first power-on: boot count 1, position 0, memory unknown.
func New(o Options) *Jig {
	o = o.filled()
	v := &Jig{opt: o, lines: map[*line]struct{}{}, lastStep: -int64(o.Rate), late: newLateness(o.Late)}
	v.nv.settings = o.unsettled()
	v.faults = append(v.faults, o.Faults...)
	v.start(true)
	return v
}

// Advance moves the jig's time on by a number of frames.
func (v *Jig) Advance(frames int) {
	v.mu.Lock()
	defer v.mu.Unlock()
	for range frames {
		v.frame++
		v.timeFaults()
		if v.motion != nil {
			v.turn()
		} else if v.frame-v.lastHeard > protocol.HoldSeconds*int64(v.opt.Rate) {
			v.energised = false
		}
		v.sendDue()
	}
}

// Shaft returns the present state of the shaft.
func (v *Jig) Shaft() Shaft {
	v.mu.Lock()
	defer v.mu.Unlock()
	return Shaft{
		Microsteps: float64(v.shaft), Energised: v.energised, Moving: v.motion != nil,
		Stepping: v.frame-v.lastStep < int64(v.opt.Rate/100),
	}
}

// Reset restarts the jig, as its reset button does. With powerLost it restarts the jig as
// an interruption of its supply does.
func (v *Jig) Reset(powerLost bool) {
	v.mu.Lock()
	defer v.mu.Unlock()
	v.start(powerLost)
}

// PressStop holds or releases the stop input. A turning motor then stops abruptly.
func (v *Jig) PressStop(held bool) {
	v.mu.Lock()
	defer v.mu.Unlock()
	v.stopHeld = held
	if held && v.fitted(protocol.FittedStop) {
		v.abort(protocol.ReasonStopInput)
	}
}

// start does what the firmware does at its start.
func (v *Jig) start(powerLost bool) {
	moving := v.motion != nil
	v.nv.boot++
	v.cause = protocol.CauseExternal
	switch {
	case powerLost:
		v.cause = protocol.CausePower
		v.losePosition()
		v.nv.position = 0
		v.nv.epoch++
	case moving && v.nv.memory == protocol.Kept:
		v.nv.memory = protocol.Doubtful
	}
	v.forget()
	v.motion, v.energised, v.hung, v.last = nil, false, false, request{}
	v.stops, v.hostMinor = stops{}, protocol.Minor
	v.stepped, v.firstStep = false, v.frame
	v.target = v.nv.position
	v.reason = protocol.ReasonNone
	if moving {
		v.reason = protocol.ReasonReset
	}
	v.bootFrame, v.lastHeard = v.frame, v.frame
}

func (v *Jig) status() protocol.Status {
	s := protocol.Status{
		Boot: v.nv.boot, Micros: v.micros(v.frame),
		Position: v.nv.position, Target: v.target, Memory: v.nv.memory, Epoch: v.nv.epoch,
		Reason: v.reason, Cause: v.cause,
	}
	if v.motion != nil {
		s.Flags |= protocol.FlagMoving
	}
	if v.energised {
		s.Flags |= protocol.FlagEnergised
	}
	if v.stopHeld && v.fitted(protocol.FittedStop) {
		s.Flags |= protocol.FlagStopHeld
	}
	if v.stepped {
		s.Flags |= protocol.FlagStepped
	}
	if v.noSupply() {
		s.Flags |= protocol.FlagNoSupply
	}
	return s
}

// micros returns the board's clock at a frame.
func (v *Jig) micros(frame int64) uint32 {
	frames, rate := frame-v.bootFrame, int64(v.opt.Rate)
	gained := float64(frames) / float64(rate) * v.late.ClockPPM
	return uint32(frames*1e6/rate + int64(math.Floor(gained)))
}
