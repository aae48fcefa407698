package protocol

import "strings"

// Status is part of every reply and every event.
type Status struct {
	// Boot counts the starts of the jig since it was made, modulo 65536.
	Boot uint16
	// Micros is the jig's time since it started, in microseconds, modulo 2^32.
	Micros uint32
	// Position and Target are in microsteps.
	Position, Target int32
	Flags            Flags
	Memory           Memory
	// Epoch numbers the position's count. It grows when the count was lost or declared
	// anew; positions of different epochs cannot be compared.
	Epoch  uint16
	Reason StopReason
	Cause  ResetCause
}

const statusLen = 20

// Moving reports whether the motor is turning.
func (s Status) Moving() bool { return s.Flags&FlagMoving != 0 }

// Energised reports whether the motor has current.
func (s Status) Energised() bool { return s.Flags&FlagEnergised != 0 }

// Stepped reports whether the last accepted move has made its first step. A StatusReply
// and an Event give its time; replies to other requests do not.
func (s Status) Stepped() bool { return s.Flags&FlagStepped != 0 }

// Append appends the status' 20 bytes.
func (s Status) Append(b []byte) []byte {
	b = le.AppendUint16(b, s.Boot)
	b = le.AppendUint32(b, s.Micros)
	b = le.AppendUint32(b, uint32(s.Position))
	b = le.AppendUint32(b, uint32(s.Target))
	b = append(b, byte(s.Flags), byte(s.Memory))
	b = le.AppendUint16(b, s.Epoch)
	return append(b, byte(s.Reason), byte(s.Cause))
}

func parseStatus(b []byte) Status {
	return Status{
		Boot: le.Uint16(b), Micros: le.Uint32(b[2:]),
		Position: int32(le.Uint32(b[6:])), Target: int32(le.Uint32(b[10:])),
		Flags: Flags(b[14]), Memory: Memory(b[15]),
		Epoch: le.Uint16(b[16:]), Reason: StopReason(b[18]), Cause: ResetCause(b[19]),
	}
}

// Reply is the body of a reply: the result of the request, and the status after it.
type Reply struct {
	Code   Code
	Status Status
}

// Append appends the body.
func (r Reply) Append(b []byte) []byte { return r.Status.Append(append(b, byte(r.Code))) }

// ParseReply reads the body of a reply to any request.
func ParseReply(b []byte) (Reply, error) {
	if err := need(b, 1+statusLen); err != nil {
		return Reply{}, err
	}
	return Reply{Code: Code(b[0]), Status: parseStatus(b[1:])}, nil
}

// StatusReply is the body of the reply to Status.
type StatusReply struct {
	Reply
	// FirstStepMicros is the jig's time of the first step of the last accepted move, on
	// the clock of Status.Micros; 0 unless Status.Stepped.
	FirstStepMicros uint32
}

const firstStepLen = 4

// Append appends the body.
func (r StatusReply) Append(b []byte) []byte {
	return le.AppendUint32(r.Reply.Append(b), r.FirstStepMicros)
}

// ParseStatusReply reads the body of the reply to Status. A jig of minor 1 or lower never
// sets FlagStepped and sends nothing after the status.
func ParseStatusReply(body []byte) (StatusReply, error) {
	r, err := ParseReply(body)
	if err != nil || !r.Status.Stepped() {
		return StatusReply{Reply: r}, err
	}
	b := body[1+statusLen:]
	if err := need(b, firstStepLen); err != nil {
		return StatusReply{}, err
	}
	return StatusReply{Reply: r, FirstStepMicros: le.Uint32(b)}, nil
}

// Event is the body of an event.
type Event struct {
	Kind   EventKind
	Status Status
	// FirstStepMicros is that of StatusReply.
	FirstStepMicros uint32
}

// Append appends the body.
func (e Event) Append(b []byte) []byte {
	return StatusReply{Reply{Code(e.Kind), e.Status}, e.FirstStepMicros}.Append(b)
}

// ParseEvent reads the body of an event.
func ParseEvent(b []byte) (Event, error) {
	r, err := ParseStatusReply(b)
	return Event{Kind: EventKind(r.Code), Status: r.Status, FirstStepMicros: r.FirstStepMicros}, err
}

// Greeting follows the status in the reply to Hello.
type Greeting struct {
	Major, Minor uint8
	// Firmware is the name of the firmware, ASCII, at most 8 bytes.
	Firmware                     string
	FirmwareMajor, FirmwareMinor uint8
	// MicrostepsPerMotorTurn counts microsteps of one turn of the motor.
	MicrostepsPerMotorTurn uint32
	// MaxSpeed and StartStop are microsteps per second, Accel microsteps per
	// second squared. Above StartStop the motor cannot stop or start without a
	// ramp and keep its position.
	MaxSpeed  uint16
	Accel     uint32
	StartStop uint16
	// CurrentMilliamps is the current of one winding.
	CurrentMilliamps uint16
	Window           Window
	Features         Features
	// SilenceMillis is how long the host may be silent during a move.
	SilenceMillis uint16
}

// Features are bits, one for each ability of a jig.
type Features uint16

// Bits of Features.
const (
	FeatureStopInput   Features = 1 << 0
	FeatureLimits      Features = 1 << 1
	FeatureStallDetect Features = 1 << 2
	FeatureEncoder     Features = 1 << 3
	FeatureSupplySense Features = 1 << 4
)

// Names returns the features in words.
func (f Features) Names() []string {
	var names []string
	for _, has := range []struct {
		bit  Features
		name string
	}{
		{FeatureStopInput, "stop input"}, {FeatureLimits, "limit switches"},
		{FeatureStallDetect, "stall detection"}, {FeatureEncoder, "encoder on the shaft"},
		{FeatureSupplySense, "sense of the motor supply"},
	} {
		if f&has.bit != 0 {
			names = append(names, has.name)
		}
	}
	return names
}

const greetingLen = 38

// Append appends the greeting's 38 bytes.
func (g Greeting) Append(b []byte) []byte {
	var firmware [8]byte
	copy(firmware[:], g.Firmware)
	b = append(b, g.Major, g.Minor)
	b = append(b, firmware[:]...)
	b = append(b, g.FirmwareMajor, g.FirmwareMinor)
	b = le.AppendUint32(b, g.MicrostepsPerMotorTurn)
	b = le.AppendUint16(b, g.MaxSpeed)
	b = le.AppendUint32(b, g.Accel)
	b = le.AppendUint16(b, g.StartStop)
	b = le.AppendUint16(b, g.CurrentMilliamps)
	b = g.Window.Append(b)
	b = le.AppendUint16(b, uint16(g.Features))
	return le.AppendUint16(b, g.SilenceMillis)
}

// ParseGreeting reads the body of a reply to Hello. If the reply refuses the version, the
// rest of the greeting may be missing after the two version bytes, and is left zero.
func ParseGreeting(body []byte) (Reply, Greeting, error) {
	r, err := ParseReply(body)
	if err != nil {
		return r, Greeting{}, err
	}
	b := body[1+statusLen:]
	if err := need(b, 2); err != nil {
		return r, Greeting{}, err
	}
	g := Greeting{Major: b[0], Minor: b[1]}
	if r.Code == BadVersion {
		return r, g, nil
	}
	if err := need(b, greetingLen); err != nil {
		return r, g, err
	}
	g.Firmware = strings.TrimRight(string(b[2:10]), "\x00")
	g.FirmwareMajor, g.FirmwareMinor = b[10], b[11]
	g.MicrostepsPerMotorTurn = le.Uint32(b[12:])
	g.MaxSpeed, g.Accel = le.Uint16(b[16:]), le.Uint32(b[18:])
	g.StartStop, g.CurrentMilliamps = le.Uint16(b[22:]), le.Uint16(b[24:])
	g.Window = Window{Lo: int32(le.Uint32(b[26:])), Hi: int32(le.Uint32(b[30:]))}
	g.Features, g.SilenceMillis = Features(le.Uint16(b[34:])), le.Uint16(b[36:])
	return r, g, nil
}
