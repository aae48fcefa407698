package jig

import protocol "headtrue/firmware-protocol"

// Status is the state of the jig in its last reply.
type Status struct {
	Position, Target  Degrees
	Microsteps        int32
	Moving, Energised bool
	// StopHeld and LimitHeld report whether the stop input, or a limit, is held now.
	StopHeld, LimitHeld bool
	// NoSupply reports that the motor has no supply now, if the jig senses that.
	NoSupply bool
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

// Values in a reply, under their names on the link.
type (
	// Memory grades how far the jig's position can be trusted.
	Memory = protocol.Memory
	// StopReason is the reason why the last motion ended.
	StopReason = protocol.StopReason
	// ResetCause is the cause of the jig's last start.
	ResetCause = protocol.ResetCause
	// Code is the reason why a request was refused.
	Code = protocol.Code
	// Features are bits, one for each ability of a jig.
	Features = protocol.Features
)

// Values of Memory, StopReason, Code, Features and Fitted that callers distinguish.
const (
	Unknown  = protocol.Unknown
	Doubtful = protocol.Doubtful
	Kept     = protocol.Kept

	ReasonNone      = protocol.ReasonNone
	ReasonDone      = protocol.ReasonDone
	ReasonOrder     = protocol.ReasonOrder
	ReasonLimit     = protocol.ReasonLimit
	ReasonStopInput = protocol.ReasonStopInput
	ReasonStall     = protocol.ReasonStall
	ReasonFault     = protocol.ReasonFault
	ReasonSilence   = protocol.ReasonSilence
	ReasonReset     = protocol.ReasonReset

	OutsideWindow = protocol.OutsideWindow
	NotEnergised  = protocol.NotEnergised
	IsMoving      = protocol.IsMoving
	StopHeld      = protocol.StopHeld
	NoSupply      = protocol.NoSupply
	BadValue      = protocol.BadValue
	IsEnergised   = protocol.IsEnergised

	FeatureStopInput   = protocol.FeatureStopInput
	FeatureLimits      = protocol.FeatureLimits
	FeatureSupplySense = protocol.FeatureSupplySense

	FittedStop        = protocol.FittedStop
	FittedLimits      = protocol.FittedLimits
	FittedStall       = protocol.FittedStall
	FittedEncoder     = protocol.FittedEncoder
	FittedSupply      = protocol.FittedSupply
	FittedEncoderBack = protocol.FittedEncoderBack
)
