package virtual

import protocol "headtrue/firmware-protocol"

// Fault is a fault that happens once, when the motor has made AtStep microsteps in all
// (both directions added, since the jig was made), or when the clock reaches AtSeconds.
// The one above zero applies.
type Fault struct {
	Kind      string
	AtStep    int64
	AtSeconds float64
	// Amount is microsteps for lost steps [one fiftieth of a motor turn], frames for line
	// noise [3].
	Amount int
}

// Kinds of faults.
const (
	FaultReset     = "reset"        // the board restarts, its supply stays on
	FaultPowerLoss = "power-loss"   // its supply is interrupted
	FaultStopInput = "stop-input"   // a short press of the stop button
	FaultLimit     = "limit"        // a limit switch opens
	FaultStall     = "stall"        // the rotor is held and the board detects it
	FaultDriver    = "driver-fault" // the driver switches off
	FaultLostSteps = "lost-steps"   // the rotor falls behind undetected
	FaultHang      = "hang"         // the board no longer answers; its motor ends the move
	FaultCableGone = "cable-gone"   // the line hangs up
	FaultLineNoise = "line-noise"   // frames from the jig arrive garbled
)

// Kinds lists all kinds of faults.
func Kinds() []string {
	return []string{
		FaultReset, FaultPowerLoss, FaultStopInput, FaultLimit, FaultStall, FaultDriver,
		FaultLostSteps, FaultHang, FaultCableGone, FaultLineNoise,
	}
}

func (v *Jig) timeFaults() {
	v.come(func(f Fault) bool {
		return f.AtSeconds > 0 && v.frame >= int64(f.AtSeconds*float64(v.opt.Rate)+0.5)
	})
}

func (v *Jig) stepFaults() {
	v.come(func(f Fault) bool { return f.AtStep > 0 && v.travelled >= f.AtStep })
}

// come carries out the due faults, each once.
func (v *Jig) come(due func(Fault) bool) {
	for i := 0; i < len(v.faults); {
		f := v.faults[i]
		if !due(f) {
			i++
			continue
		}
		v.faults = append(v.faults[:i], v.faults[i+1:]...)
		v.bring(f)
	}
}

func (v *Jig) bring(f Fault) {
	switch f.Kind {
	case FaultReset:
		v.start(false)
	case FaultPowerLoss:
		v.start(true)
	case FaultStopInput:
		v.abort(protocol.ReasonStopInput)
	case FaultLimit:
		v.abort(protocol.ReasonLimit)
	case FaultStall:
		v.doubt()
		if v.motion != nil {
			v.stand(protocol.ReasonStall)
		}
	case FaultDriver:
		v.doubt()
		v.energised = false
		if v.motion != nil {
			v.stand(protocol.ReasonFault)
		}
	case FaultLostSteps:
		v.slip += int64(orDefault(f.Amount, v.opt.MicrostepsPerMotorTurn/50))
	case FaultHang:
		v.hung = true
		v.forget()
	case FaultCableGone:
		for l := range v.lines {
			l.gone = true
			l.cut()
		}
	case FaultLineNoise:
		v.noisy += orDefault(f.Amount, 3)
	}
}

func orDefault(n, otherwise int) int {
	if n == 0 {
		return otherwise
	}
	return n
}

// garble changes one byte of a frame on the wire while the line is noisy.
func (v *Jig) garble(wire []byte) []byte {
	if v.noisy > 0 {
		v.noisy--
		wire[len(wire)/2] ^= 0x55
	}
	return wire
}
