package protocol

import (
	"encoding/binary"
	"fmt"
	"math"
)

var le = binary.LittleEndian

// Hello greets the jig with the host's version of the link.
type Hello struct{ Major, Minor uint8 }

// Move orders the motor to an absolute position in microsteps, at a speed in microsteps
// per second. Any speed above the jig's maximum means its maximum. Speed 0 meant that
// before link 1.4; since then a jig refuses it.
type Move struct {
	Target int32
	Speed  uint16
}

// FullSpeed is above the maximum of any jig, so it means the maximum.
const FullSpeed = math.MaxUint16

// Stop ends the motion: with a ramp, or abruptly at the next microstep.
type Stop struct{ Abrupt bool }

// Energise switches the current of the motor.
type Energise struct{ On bool }

// Window is the range of absolute positions, in microsteps, that are allowed as targets
// of moves, both ends included.
type Window struct{ Lo, Hi int32 }

// ClosedWindow is the window of a jig after a loss of power: it allows no target. A host
// cannot set it.
var ClosedWindow = Window{Lo: 1, Hi: 0}

func (m Window) String() string {
	if m.Closed() {
		return "closed"
	}
	return fmt.Sprintf("%d to %d", m.Lo, m.Hi)
}

// Closed reports whether the window allows no target.
func (m Window) Closed() bool { return m.Lo > m.Hi }

// Declare sets the position, in microsteps.
type Declare struct{ Position int32 }

// Append appends the body of the request.
func (m Hello) Append(b []byte) []byte { return append(b, m.Major, m.Minor) }

// Append appends the body of the request.
func (m Move) Append(b []byte) []byte {
	return le.AppendUint16(le.AppendUint32(b, uint32(m.Target)), m.Speed)
}

// Append appends the body of the request.
func (m Stop) Append(b []byte) []byte { return appendBool(b, m.Abrupt) }

// Append appends the body of the request.
func (m Energise) Append(b []byte) []byte { return appendBool(b, m.On) }

// Append appends the body of the request.
func (m Window) Append(b []byte) []byte {
	return le.AppendUint32(le.AppendUint32(b, uint32(m.Lo)), uint32(m.Hi))
}

// Append appends the body of the request.
func (m Declare) Append(b []byte) []byte { return le.AppendUint32(b, uint32(m.Position)) }

// ParseHello reads the body of a request.
func ParseHello(b []byte) (m Hello, err error) {
	if err = need(b, 2); err == nil {
		m = Hello{Major: b[0], Minor: b[1]}
	}
	return m, err
}

// ParseMove reads the body of a request.
func ParseMove(b []byte) (m Move, err error) {
	if err = need(b, 6); err == nil {
		m = Move{Target: int32(le.Uint32(b)), Speed: le.Uint16(b[4:])}
	}
	return m, err
}

// ParseStop reads the body of a request.
func ParseStop(b []byte) (m Stop, err error) {
	if err = need(b, 1); err == nil {
		m.Abrupt = b[0] != 0
	}
	return m, err
}

// ParseEnergise reads the body of a request.
func ParseEnergise(b []byte) (m Energise, err error) {
	if err = need(b, 1); err == nil {
		m.On = b[0] != 0
	}
	return m, err
}

// ParseWindow reads the body of a request.
func ParseWindow(b []byte) (m Window, err error) {
	if err = need(b, 8); err == nil {
		m = Window{Lo: int32(le.Uint32(b)), Hi: int32(le.Uint32(b[4:]))}
	}
	return m, err
}

// ParseDeclare reads the body of a request.
func ParseDeclare(b []byte) (m Declare, err error) {
	if err = need(b, 4); err == nil {
		m.Position = int32(le.Uint32(b))
	}
	return m, err
}

// need checks the least length of a body. Bytes beyond it come from a newer minor version
// and are ignored.
func need(b []byte, n int) error {
	if len(b) < n {
		return fmt.Errorf("%w: body has %d bytes, needs %d", ErrShort, len(b), n)
	}
	return nil
}

func appendBool(b []byte, on bool) []byte {
	if on {
		return append(b, 1)
	}
	return append(b, 0)
}
