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
	var code protocol.Code
	if v.last.is(f) {
		code = v.last.code
	} else {
		code = v.carryOut(f)
		if f.Type != protocol.TypeStop {
			v.last = request{f, code}
		}
	}
	v.reply(l, func() []byte { return v.compose(f, code) })
}

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
	default:
		reply.Body = said.Append(nil)
	}
	return v.garble(reply.Append(nil))
}

func (v *Jig) carryOut(f protocol.Frame) protocol.Code {
	switch f.Type {
	case protocol.TypeHello:
		m, err := protocol.ParseHello(f.Body)
		return decide(err, m.Major == protocol.Major, protocol.BadVersion)
	case protocol.TypeStatus, protocol.TypeInspect:
		return protocol.OK
	case protocol.TypeMove:
		m, err := protocol.ParseMove(f.Body)
		return orMalformed(err, func() protocol.Code { return v.move(m) })
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
	}
	return protocol.UnknownType
}

func orMalformed(err error, carryOut func() protocol.Code) protocol.Code {
	if err != nil {
		return protocol.Malformed
	}
	return carryOut()
}

func decide(err error, ok bool, otherwise protocol.Code) protocol.Code {
	return orMalformed(err, func() protocol.Code {
		if ok {
			return protocol.OK
		}
		return otherwise
	})
}

func (v *Jig) move(m protocol.Move) protocol.Code {
	w := v.nv.window
	switch {
	case v.motion != nil:
		return protocol.IsMoving
	case v.stopHeld:
		return protocol.StopHeld
	case !v.energised:
		return protocol.NotEnergised
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
	speed := min(int(m.Speed), v.opt.MaxSpeed)
	if speed == 0 {
		speed = v.opt.MaxSpeed
	}
	v.reason = protocol.ReasonNone
	v.motion = newMotion(v.frame, distance, direction, float64(speed), float64(v.opt.Accel))
	v.putOff(v.motion)
	return protocol.OK
}

func (v *Jig) stop(m protocol.Stop) protocol.Code {
	switch {
	case v.motion == nil:
	case m.Abrupt:
		v.abort(protocol.ReasonOrder)
	default:
		v.motion.rampDown(v.seconds(), float64(v.opt.Accel), protocol.ReasonOrder)
	}
	return protocol.OK
}

func (v *Jig) energise(m protocol.Energise) protocol.Code {
	if v.motion != nil && !m.On {
		return protocol.IsMoving
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
	features := protocol.FeatureStopInput | protocol.FeatureLimits | protocol.FeatureStallDetect
	if v.opt.Encoder {
		features |= protocol.FeatureEncoder
	}
	return protocol.Greeting{
		Major: protocol.Major, Minor: protocol.Minor,
		Firmware: "virtual", FirmwareMajor: 1,
		MicrostepsPerMotorTurn: uint32(v.opt.MicrostepsPerMotorTurn),
		MaxSpeed:               uint16(v.opt.MaxSpeed), Accel: uint32(v.opt.Accel), StartStop: uint16(v.opt.StartStop),
		CurrentMilliamps: 200, Window: v.nv.window,
		Features:      features,
		SilenceMillis: protocol.SilenceMillis,
	}
}

func (v *Jig) inspection() protocol.Inspection {
	if !v.opt.Encoder {
		return protocol.Inspection{}
	}
	turn := int64(v.opt.MicrostepsPerMotorTurn)
	inTurn := (v.shaft%turn + turn) % turn
	return protocol.Inspection{Encoder: protocol.EncoderOK, Angle: uint16(inTurn * protocol.AnglesPerTurn / turn)}
}
