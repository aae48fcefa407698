package virtual

import (
	"bytes"

	protocol "headtrue/firmware-protocol"
)

// request is the last request carried out, and its result. The zero value means none,
// since no request has type 0.
type request struct {
	frame protocol.Frame
	code  protocol.Code
}

func (r request) is(f protocol.Frame) bool {
	return r.frame.Type == f.Type && r.frame.Seq == f.Seq && bytes.Equal(r.frame.Body, f.Body)
}

// answer carries out a request and sends the reply, if one is due.
func (v *Jig) answer(l *line, f protocol.Frame) {
	if f.Type == 0 || f.Type >= protocol.TypeEvent || v.hung {
		return
	}
	v.lastHeard = v.frame
	v.plan()
	code := v.obey(f)
	v.reply(l, func() []byte { return v.compose(f, code) })
}

// obey carries out a request, unless it is a copy, and returns its code. What has no effect
// is carried out each time, and so are hello and stop.
func (v *Jig) obey(f protocol.Frame) protocol.Code {
	v.stops.note(f.Seq)
	switch f.Type {
	case protocol.TypeStop:
		v.stops = stops{known: true, last: f.Seq}
		return v.carryOut(f)
	case protocol.TypeHello:
		v.last, v.stops = request{}, stops{}
		return v.carryOut(f)
	case protocol.TypeStatus, protocol.TypeInspect, protocol.TypeSettings:
		return v.carryOut(f)
	}
	if !v.last.is(f) {
		v.last = request{f, v.carryOut(f)}
	}
	return v.last.code
}

// stops holds the number of the last stop, until a copy of an earlier move cannot come any
// more.
type stops struct {
	known bool
	last  uint8
}

// recall is the number of newer requests after which no copy from before a stop can come.
const recall = 100

func (s *stops) note(seq uint8) {
	if after := seq - s.last; after >= recall && after < 128 {
		s.known = false
	}
}

// before reports whether a request was numbered before the last stop.
func (s stops) before(seq uint8) bool { return s.known && int8(seq-s.last) <= 0 }

// speedNeededFrom is the minor of the hosts to which speed 0 is a bad value.
const speedNeededFrom = 4

// compose makes the wire bytes of a reply with the present status.
func (v *Jig) compose(f protocol.Frame, code protocol.Code) []byte {
	reply := protocol.Frame{Type: f.Type | protocol.ReplyBit, Seq: f.Seq}
	said := protocol.Reply{Code: code, Status: v.status()}
	switch f.Type {
	case protocol.TypeHello:
		reply.Body = v.greeting().Append(said.Append(nil))
	case protocol.TypeStatus:
		reply.Body = protocol.StatusReply{Reply: said, FirstStepMicros: v.micros(v.firstStep)}.Append(nil)
	case protocol.TypeInspect:
		reply.Body = v.inspection().Append(said.Append(nil))
	case protocol.TypeSettings, protocol.TypeConfigure:
		reply.Body = protocol.StoredSettings{Settings: v.nv.settings, Stored: true}.Append(said.Append(nil))
	default:
		reply.Body = said.Append(nil)
	}
	return v.garble(reply.Append(nil))
}

func (v *Jig) carryOut(f protocol.Frame) protocol.Code {
	switch f.Type {
	case protocol.TypeHello:
		m, err := protocol.ParseHello(f.Body)
		return orMalformed(err, func() protocol.Code { return v.hello(m) })
	case protocol.TypeStatus, protocol.TypeInspect, protocol.TypeSettings:
		return protocol.OK
	case protocol.TypeMove:
		m, err := protocol.ParseMove(f.Body)
		return orMalformed(err, func() protocol.Code { return v.move(f.Seq, m) })
	case protocol.TypeStop:
		m, err := protocol.ParseStop(f.Body)
		return orMalformed(err, func() protocol.Code { return v.stop(m) })
	case protocol.TypeEnergise:
		m, err := protocol.ParseEnergise(f.Body)
		return orMalformed(err, func() protocol.Code { return v.energise(m) })
	case protocol.TypeSetWindow:
		m, err := protocol.ParseWindow(f.Body)
		return orMalformed(err, func() protocol.Code { return v.setWindow(m) })
	case protocol.TypeDeclare:
		m, err := protocol.ParseDeclare(f.Body)
		return orMalformed(err, func() protocol.Code { return v.declare(m) })
	case protocol.TypeConfigure:
		s, ok, err := protocol.ParseSettings(f.Body)
		return orMalformed(err, func() protocol.Code { return v.configure(s, ok) })
	}
	return protocol.UnknownType
}

func orMalformed(err error, carryOut func() protocol.Code) protocol.Code {
	if err != nil {
		return protocol.Malformed
	}
	return carryOut()
}

func (v *Jig) hello(m protocol.Hello) protocol.Code {
	if m.Major != protocol.Major {
		return protocol.BadVersion
	}
	v.hostMinor = m.Minor
	return protocol.OK
}

func (v *Jig) move(seq uint8, m protocol.Move) protocol.Code {
	w := v.nv.window
	switch {
	case v.motion != nil:
		return protocol.IsMoving
	case v.stopHeld && v.fitted(protocol.FittedStop):
		return protocol.StopHeld
	case !v.energised:
		return protocol.NotEnergised
	case v.stops.before(seq), m.Speed == 0 && v.hostMinor >= speedNeededFrom:
		return protocol.BadValue
	case m.Target < w.Lo || m.Target > w.Hi:
		return protocol.OutsideWindow
	}
	v.target = m.Target
	v.stepped = false
	distance, direction := int64(m.Target)-int64(v.nv.position), int32(1)
	if distance < 0 {
		distance, direction = -distance, -1
	}
	if distance == 0 {
		v.reason = protocol.ReasonDone
		return protocol.OK
	}
	drive := v.drive()
	speed := min(int(m.Speed), drive.MaxSpeed)
	if speed == 0 {
		speed = drive.MaxSpeed
	}
	v.reason = protocol.ReasonNone
	v.motion = newMotion(v.frame, distance, direction, float64(speed), float64(drive.Accel))
	v.putOff(v.motion)
	return protocol.OK
}

func (v *Jig) stop(m protocol.Stop) protocol.Code {
	switch {
	case v.motion == nil:
	case m.Abrupt:
		v.abort(protocol.ReasonOrder)
	default:
		v.motion.rampDown(v.seconds(), float64(v.drive().Accel), protocol.ReasonOrder)
	}
	return protocol.OK
}

func (v *Jig) energise(m protocol.Energise) protocol.Code {
	switch {
	case v.motion != nil && !m.On:
		return protocol.IsMoving
	case m.On && v.stopHeld && v.fitted(protocol.FittedStop):
		return protocol.StopHeld
	case m.On && v.noSupply():
		return protocol.NoSupply
	}
	v.energised = m.On
	return protocol.OK
}

func (v *Jig) setWindow(w protocol.Window) protocol.Code {
	switch {
	case v.motion != nil:
		return protocol.IsMoving
	case w.Lo > w.Hi:
		return protocol.BadValue
	}
	v.nv.window = w
	return protocol.OK
}

func (v *Jig) declare(m protocol.Declare) protocol.Code {
	if v.motion != nil {
		return protocol.IsMoving
	}
	v.nv.position, v.target = m.Position, m.Position
	v.nv.memory = protocol.Kept
	v.nv.epoch++
	return protocol.OK
}

func (v *Jig) greeting() protocol.Greeting {
	drive, kept := v.drive(), v.nv.settings
	features := protocol.Features(kept.Fitted &^ (protocol.FittedEncoderBack | protocol.FittedEncoder))
	if v.encoder() != protocol.EncoderNone {
		features |= protocol.FeatureEncoder
	}
	return protocol.Greeting{
		Major: protocol.Major, Minor: protocol.Minor,
		Firmware: "virtual", FirmwareMajor: 1,
		MicrostepsPerMotorTurn: uint32(drive.MicrostepsPerMotorTurn),
		MaxSpeed:               uint16(drive.MaxSpeed), Accel: uint32(drive.Accel), StartStop: uint16(drive.StartStop),
		CurrentMilliamps: kept.CurrentMilliamps, Window: v.nv.window,
		Features:      features,
		SilenceMillis: protocol.SilenceMillis,
	}
}

func (v *Jig) inspection() protocol.Inspection {
	i := protocol.Inspection{Encoder: v.encoder()}
	if i.Encoder == protocol.EncoderOK {
		turn := int64(v.opt.MicrostepsPerMotorTurn)
		inTurn := (v.shaft%turn + turn) % turn
		i.Angle = uint16(inTurn * protocol.AnglesPerTurn / turn)
		if v.fitted(protocol.FittedEncoderBack) {
			i.Angle = (protocol.AnglesPerTurn - i.Angle) % protocol.AnglesPerTurn
		}
	}
	return i
}
