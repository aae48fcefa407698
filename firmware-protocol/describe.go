package protocol

import (
	"fmt"
	"strings"
)

// String returns a frame in words, for logs and for LINK.md.
func (f Frame) String() string {
	switch {
	case f.Type == TypeEvent:
		e, err := ParseEvent(f.Body)
		return told(err, "event %d: %s; %s%s", f.Seq, e.Kind, e.Status, firstStep(e.Status, e.FirstStepMicros))
	case f.Type == TypeStatus|ReplyBit:
		r, err := ParseStatusReply(f.Body)
		return told(err, "reply %d to status: %s; %s%s", f.Seq, r.Code, r.Status, firstStep(r.Status, r.FirstStepMicros))
	case f.Type == TypeHello|ReplyBit:
		r, g, err := ParseGreeting(f.Body)
		return told(err, "reply %d to hello: %s; %s; %s", f.Seq, r.Code, r.Status, g)
	case f.Type == TypeInspect|ReplyBit:
		r, i, err := ParseInspection(f.Body)
		return told(err, "reply %d to inspect: %s; %s; %s", f.Seq, r.Code, r.Status, i)
	case f.Type == TypeSettings|ReplyBit, f.Type == TypeConfigure|ReplyBit:
		r, s, err := ParseSettingsReply(f.Body)
		return told(err, "reply %d to %s: %s; %s; %s", f.Seq, f.Type&^ReplyBit, r.Code, r.Status, s)
	case f.Type&ReplyBit != 0:
		r, err := ParseReply(f.Body)
		return told(err, "reply %d to %s: %s; %s", f.Seq, f.Type&^ReplyBit, r.Code, r.Status)
	}
	return fmt.Sprintf("%s %d%s", f.Type, f.Seq, f.arguments())
}

func (f Frame) arguments() string {
	switch f.Type {
	case TypeHello:
		m, err := ParseHello(f.Body)
		return told(err, ": version %d.%d", m.Major, m.Minor)
	case TypeMove:
		m, err := ParseMove(f.Body)
		return told(err, ": to %d at %d", m.Target, m.Speed)
	case TypeStop:
		m, err := ParseStop(f.Body)
		return told(err, ": %s", choose(m.Abrupt, "abrupt", "ramped"))
	case TypeEnergise:
		m, err := ParseEnergise(f.Body)
		return told(err, ": %s", choose(m.On, "on", "off"))
	case TypeSetWindow:
		m, err := ParseWindow(f.Body)
		return told(err, ": %d to %d", m.Lo, m.Hi)
	case TypeDeclare:
		m, err := ParseDeclare(f.Body)
		return told(err, ": %d", m.Position)
	case TypeConfigure:
		s, _, err := ParseSettings(f.Body)
		return told(err, ": %s", s)
	}
	return ""
}

func (t Type) String() string {
	names := map[Type]string{
		TypeHello: "hello", TypeStatus: "status", TypeMove: "move", TypeStop: "stop",
		TypeEnergise: "energise", TypeSetWindow: "window", TypeDeclare: "declare", TypeInspect: "inspect",
		TypeSettings: "settings", TypeConfigure: "configure",
	}
	if name, ok := names[t]; ok {
		return name
	}
	return fmt.Sprintf("type %02x", uint8(t))
}

// String returns a status in words.
func (s Status) String() string {
	words := []string{fmt.Sprintf("boot %d, %d us, at %d of %d", s.Boot, s.Micros, s.Position, s.Target)}
	for _, flag := range []struct {
		bit  Flags
		name string
	}{{FlagMoving, "moving"}, {FlagEnergised, "energised"}, {FlagStopHeld, "stop held"}, {FlagLimitHeld, "limit held"}, {FlagStepped, "stepped"}, {FlagNoSupply, "no supply"}} {
		if s.Flags&flag.bit != 0 {
			words = append(words, flag.name)
		}
	}
	return strings.Join(words, ", ") + fmt.Sprintf(", %s, epoch %d, last stop: %s, started by: %s", s.Memory, s.Epoch, s.Reason, s.Cause)
}

func firstStep(s Status, micros uint32) string {
	if !s.Stepped() {
		return ""
	}
	return fmt.Sprintf(", first step at %d us", micros)
}

// String returns a greeting in words.
func (g Greeting) String() string {
	return fmt.Sprintf("version %d.%d, firmware %s %d.%d, %d a turn, speed %d, acceleration %d, start-stop %d, %d mA, window %s, features %04x, silence %d ms",
		g.Major, g.Minor, g.Firmware, g.FirmwareMajor, g.FirmwareMinor, g.MicrostepsPerMotorTurn, g.MaxSpeed, g.Accel,
		g.StartStop, g.CurrentMilliamps, g.Window, uint16(g.Features), g.SilenceMillis)
}

func told(err error, format string, args ...any) string {
	if err != nil {
		return fmt.Sprintf(": %v", err)
	}
	return fmt.Sprintf(format, args...)
}

func choose(on bool, yes, no string) string {
	if on {
		return yes
	}
	return no
}
