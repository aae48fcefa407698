package virtual

import (
	"math"

	protocol "headtrue/firmware-protocol"
)

// motion is one move of the motor, from its first microstep to its last. Time is in
// seconds since began. Distance is in microsteps and always positive; direction is a
// sign.
type motion struct {
	began     int64 // frame
	direction int32
	made      int64 // microsteps made
	phases    []phase
	seconds   float64 // when it ends
	distance  float64 // whole microsteps
	reason    protocol.StopReason
}

// phase is a part with constant acceleration a that starts at time t, distance x and
// speed v.
type phase struct{ t, x, v, a float64 }

// newMotion plans a trapezoid, or a triangle if the distance is too short to reach the
// speed: peak speed = min(speed, sqrt(distance*accel)).
func newMotion(began int64, distance int64, direction int32, speed, accel float64) *motion {
	d := float64(distance)
	peak := math.Min(speed, math.Sqrt(d*accel))
	ramp, rampWay := peak/accel, peak*peak/(2*accel)
	cruise := (d - 2*rampWay) / peak
	return &motion{
		began: began, direction: direction, distance: d, seconds: 2*ramp + cruise,
		reason: protocol.ReasonDone,
		phases: []phase{
			{0, 0, 0, accel},
			{ramp, rampWay, peak, 0},
			{ramp + cruise, d - rampWay, peak, -accel},
		},
	}
}

// firstStep returns the seconds until the first microstep.
func (m *motion) firstStep() float64 {
	up := m.phases[1] // the first step is made on the last ramp only if it is the only one
	switch {
	case m.distance == 1:
		return m.seconds
	case up.x >= 1:
		return math.Sqrt(2 / m.phases[0].a)
	}
	return up.t + (1-up.x)/up.v
}

// at returns distance and speed after t seconds.
func (m *motion) at(t float64) (distance, speed float64) {
	if t < 0 {
		return 0, 0 // delayed by putOff
	}
	if t >= m.seconds {
		return m.distance, 0
	}
	p := m.phases[0]
	for _, next := range m.phases[1:] {
		if t >= next.t {
			p = next
		}
	}
	t -= p.t
	return p.x + p.v*t + p.a*t*t/2, p.v + p.a*t
}

// rampDown replaces the rest of the move by a ramp to the first whole microstep that the
// acceleration allows.
func (m *motion) rampDown(t, accel float64, reason protocol.StopReason) {
	if m.reason != protocol.ReasonDone {
		return // ramping down already
	}
	x, v := m.at(t)
	end := math.Min(m.distance, math.Ceil(x+v*v/(2*accel)-1e-9))
	m.reason = reason
	m.distance = end
	if end-x < 1e-9 || v < 1e-9 {
		m.seconds, m.distance = t, math.Max(float64(m.made), math.Floor(x+1e-9))
		return
	}
	m.phases = append(m.phases, phase{t, x, v, -v * v / (2 * (end - x))})
	m.seconds = t + 2*(end-x)/v
}

// seconds returns the duration of the motion up to now, by the board's clock.
func (v *Jig) seconds() float64 {
	return float64(v.frame-v.motion.began) * v.late.pace() / float64(v.opt.Rate)
}

// turn makes the steps that are due in this frame, and ends the motion.
func (v *Jig) turn() {
	if float64(v.frame-v.lastHeard)*v.late.pace() > v.patience()*float64(v.opt.Rate) {
		v.motion.rampDown(v.seconds(), float64(v.drive().Accel), protocol.ReasonSilence)
	}
	m, t := v.motion, v.seconds()
	due, _ := m.at(t)
	for v.motion == m && m.made < int64(due+1e-9) {
		v.step()
	}
	if v.motion == m && t >= m.seconds {
		v.stand(m.reason)
	}
}

// patience returns the allowed silence of the host, in seconds: short enough that the
// motor stands when the silence reaches the link's limit, but at least four fifths of
// that limit.
func (v *Jig) patience() float64 {
	const all = protocol.SilenceMillis / 1000.0
	_, speed := v.motion.at(v.seconds())
	return math.Max(0.8*all, all-speed/float64(v.drive().Accel))
}

func (v *Jig) step() {
	m := v.motion
	m.made++
	v.nv.position += m.direction
	v.travelled++
	v.lastStep = v.frame
	if m.made == 1 {
		v.stepped, v.firstStep = true, v.frame
	}
	if v.slip > 0 {
		v.slip--
	} else {
		v.shaft += v.sign() * int64(m.direction)
	}
	v.stepFaults()
}

// stand ends the motion now, and sends the reason as an event unless it is ReasonOrder.
func (v *Jig) stand(reason protocol.StopReason) {
	v.motion = nil
	v.reason = reason
	if reason != protocol.ReasonOrder {
		v.event(protocol.EventKind(reason))
	}
}

// abort ends the motion without a ramp. Above the start-stop rate the rotor loses step
// and runs on by four full steps; the count does not include them.
func (v *Jig) abort(reason protocol.StopReason) {
	m := v.motion
	if m == nil {
		return
	}
	_, speed := m.at(v.seconds())
	if speed > float64(v.drive().StartStop) {
		v.shaft += v.sign() * int64(m.direction) * int64(v.opt.MicrostepsPerMotorTurn) / 50
		v.doubt()
	}
	v.stand(reason)
}

// sign is -1 if the motor turns the other way for a growing count.
func (v *Jig) sign() int64 {
	if v.nv.settings.Reversed {
		return -1
	}
	return 1
}

// doubt changes a kept position to doubtful.
func (v *Jig) doubt() {
	if v.nv.memory == protocol.Kept {
		v.nv.memory = protocol.Doubtful
	}
}
