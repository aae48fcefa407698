package virtual

import protocol "headtrue/firmware-protocol"

// fullSteps is the number of full steps of a motor turn.
const fullSteps = 200

// microsteps returns the microsteps per full step for which the options hold.
func (o Options) microsteps() int { return max(1, o.MicrostepsPerMotorTurn/fullSteps) }

// unsettled returns the settings of a jig to which nothing was stored.
func (o Options) unsettled() protocol.Settings {
	return protocol.Settings{
		Fitted:     protocol.FittedStop | protocol.FittedLimits | protocol.FittedStall,
		Microsteps: uint16(o.microsteps()), CurrentMilliamps: 200,
	}
}

// fastest returns the greatest speed for a number of microsteps per full step: a full step is
// never faster than in the options, nor is a microstep.
func (o Options) fastest(microsteps int) int {
	return min(o.MaxSpeed, o.MaxSpeed*microsteps/o.microsteps())
}

// drive returns the options with the figures for the declared microsteps. The shaft goes on
// as before: it follows the driver, not what is declared.
func (v *Jig) drive() Options {
	o, s := v.opt, v.nv.settings
	own, now := o.microsteps(), int(s.Microsteps)
	o.MicrostepsPerMotorTurn = o.MicrostepsPerMotorTurn / own * now
	o.Accel, o.StartStop = o.Accel*now/own, o.StartStop*now/own
	o.MaxSpeed = v.opt.fastest(now)
	if s.MaxSpeed != 0 {
		o.MaxSpeed = int(s.MaxSpeed)
	}
	return o
}

func (v *Jig) fitted(f protocol.Fitted) bool { return v.nv.settings.Fitted&f != 0 }

// encoder returns the state of the encoder by the settings: one that is fitted and not there
// is silent. As long as nothing was stored, one that is there is fitted.
func (v *Jig) encoder() protocol.EncoderState {
	switch there, fitted := v.opt.Encoder, v.fitted(protocol.FittedEncoder); {
	case there && (fitted || v.nv.settings.Identity == 0):
		return protocol.EncoderOK
	case fitted:
		return protocol.EncoderSilent
	}
	return protocol.EncoderNone
}

func (v *Jig) configure(s protocol.Settings, ok bool) protocol.Code {
	own, m := v.opt.microsteps(), int(s.Microsteps)
	switch {
	case v.motion != nil:
		return protocol.IsMoving
	case v.energised:
		return protocol.IsEnergised
	case !ok, m&(m-1) != 0, m < max(1, own/16), m > 4*own, int(s.MaxSpeed) > v.opt.fastest(m):
		return protocol.BadValue
	}
	if before := v.nv.settings; s.Microsteps != before.Microsteps || s.Reversed != before.Reversed {
		v.losePosition()
		v.nv.position, v.target = 0, 0
		v.nv.epoch++
	}
	v.nv.settings = s
	return protocol.OK
}

// losePosition makes the position unknown and closes the window.
func (v *Jig) losePosition() {
	v.nv.memory, v.nv.window = protocol.Unknown, protocol.ClosedWindow
}

// CutSupply cuts the motor's supply, or gives it back. The motor then has no torque. A jig
// that senses its supply switches the motor off.
func (v *Jig) CutSupply(cut bool) {
	v.mu.Lock()
	defer v.mu.Unlock()
	v.supplyCut = cut
	if !v.noSupply() || !v.energised {
		return
	}
	if v.encoder() == protocol.EncoderOK {
		v.doubt()
	} else {
		v.losePosition()
	}
	v.energised = false
	v.stand(protocol.ReasonFault)
}

// noSupply reports whether the jig senses that its motor has no supply.
func (v *Jig) noSupply() bool { return v.supplyCut && v.fitted(protocol.FittedSupply) }
