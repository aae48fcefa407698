package bench

import (
	"math"
	"math/rand/v2"
)

// shaft is the motor's state as the mount uses it; or, without a motor, the hand's.
type shaft struct {
	microsteps          float64
	energised, stepping bool
	grip                *Grip // nil with a jig
}

// mount converts the motor's shaft to the angle of the screw and the tilt of the head. A
// virtual person seats the blade some time after the motor is energised and withdraws it
// some time after it is released.
//
// The drive is a chain: rotor, coupling, slack, blade, screw. lead is the angle of the
// rotor ahead of the screw, from the middle of the slack. Within half the slack nothing
// moves. Beyond it the drive winds up until the screw breaks loose; the screw then
// follows at the twist that keeps it turning.
type mount struct {
	cfg        Screw
	motor      Motor
	faults     []Fault
	gearing    float64 // arcmin per turn, with sign
	balance    float64 // dB per turn
	startTilt  float64
	limitTilt  float64
	settle     float64 // share of the remaining tilt that the head makes per step
	zero       float64 // microsteps at the start
	rotorRand  *rand.Rand
	slackRand  *rand.Rand
	rotor      float64 // degrees of the rotor from the motor's field
	energised  bool
	since      float64 // seconds since it was energised or released
	seated     bool
	everSeated bool
	middle     float64 // rotor minus screw in the middle of the slack
	screw      float64 // degrees from as found
	turning    float64 // +1, -1, or 0 while the screw stands
	tilt       float64 // arcmin, head against the standard
	rotorDeg   float64 // last angle of the rotor
	firstLead  float64 // lead at the first seating
	rest       float64 // arcmin, final position of the head
	creep      creep
	stick      stickSlip
	press      float64 // arcmin, tilt by the blade while it is seated
	held       float64 // degrees that a hand has turned while the screw could not
}

func newMount(p Profile, seed uint64, gearing, startTilt, zero float64) *mount {
	m := &mount{
		cfg: p.Screw, motor: p.Motor, faults: p.Faults,
		gearing: gearing, balance: p.Deck.BalanceDBPerTurn, startTilt: startTilt, limitTilt: p.Deck.SpringLimitArcmin,
		settle:    1 - math.Exp(-1000/(controlRate*max(p.Deck.HeadSettlingMillis, 1e-3))),
		zero:      zero,
		press:     p.Screw.BladeTiltArcmin,
		rotorRand: stream(seed, streamRotor), slackRand: stream(seed, streamSlack),
	}
	m.rotor = uniform(m.rotorRand, p.Screw.RotorJumpSteps*p.Motor.degreesPerStep())
	m.rotorDeg = m.rotor
	m.tilt = m.targetTilt()
	m.rest, m.creep = m.tilt, newCreep(p.Deck, m.tilt)
	m.stick = stickSlip{limitDeg: p.Screw.StickSlipDeg, r: stream(seed, streamStick)}
	half := p.Screw.SlackDeg / 2
	m.firstLead = uniform(m.slackRand, half)
	if p.Screw.SlackTakenUp {
		m.firstLead = half + p.Screw.WindUpDeg
	}
	return m
}

// step advances the mount by one control period, to the time t in seconds.
func (m *mount) step(s shaft, t float64) {
	if s.grip != nil {
		m.follow(*s.grip, t)
	} else {
		m.power(s.energised)
		before := m.rotorDeg
		m.rotorDeg = m.angle(s.microsteps)
		m.blade(t)
		if m.seated && find(m.faults, Lacquered, t) == nil {
			m.drive(m.rotorDeg-before, t)
		}
	}
	m.rest = m.targetTilt()
	m.tilt += m.settle * (m.creep.follow(m.rest) - m.tilt)
	if find(m.faults, WrongScrew, t) != nil {
		m.tilt, m.rest = m.startTilt, m.startTilt
	}
}

// angle returns the angle of the rotor at a position of the motor's field.
func (m *mount) angle(microsteps float64) float64 {
	return (microsteps-m.zero)*m.motor.degreesPerMicrostep() + m.rotor
}

// power follows the motor's current. When energised, the rotor jumps to its field. When
// released, it falls into a nearby detent, away from a flank that it presses on.
func (m *mount) power(energised bool) {
	m.since += 1.0 / controlRate
	if energised == m.energised {
		return
	}
	m.energised, m.since = energised, 0
	if energised {
		m.rotor = 0
		return
	}
	m.rotor = uniform(m.rotorRand, m.cfg.SettleSteps*m.motor.degreesPerStep())
	switch lead := m.lead(); {
	case m.cfg.SettleTurnsScrew && m.seated:
		m.screw += m.rotor
	case math.Abs(lead) >= m.cfg.SlackDeg/2:
		m.rotor = -math.Copysign(m.rotor, lead)
	}
}

// blade seats and withdraws the blade.
func (m *mount) blade(t float64) {
	if f := find(m.faults, BladeOut, t); f != nil && (f.ScrewDeg == 0 || math.Abs(m.screw) >= f.ScrewDeg) {
		m.seated = false
		return
	}
	switch {
	case !m.energised && m.seated && m.since >= m.cfg.WithdrawSeconds:
		m.seated = false
	case m.energised && !m.seated && m.since >= m.cfg.SeatSeconds:
		m.seat()
	}
}

// seat puts the blade into the slot. If it fits, it goes in as before. If the jig has
// turned meanwhile, the chuck is turned until the blade fits.
func (m *mount) seat() {
	half := m.cfg.SlackDeg / 2
	lead := m.lead()
	switch {
	case !m.everSeated:
		lead = m.firstLead
	case math.Abs(lead) > half+m.cfg.WindUpDeg+m.cfg.StictionDeg:
		lead = uniform(m.slackRand, half)
	case m.cfg.ReseatDeg > 0:
		lead = max(-half, min(half, lead+uniform(m.slackRand, m.cfg.ReseatDeg)))
	}
	m.middle = m.rotorDeg - m.screw - lead
	m.seated, m.everSeated, m.turning = true, true, 0
}

// firstSlack returns how far the rotor must turn forward, from the first seating of the
// blade, until the screw turns.
func (m *mount) firstSlack() float64 { return m.cfg.SlackDeg/2 + m.cfg.WindUpDeg - m.firstLead }

// lead returns the angle of the rotor ahead of the screw, from the middle of the slack.
func (m *mount) lead() float64 { return m.rotorDeg - m.screw - m.middle }

// drive turns the screw after the rotor has turned by moved degrees.
func (m *mount) drive(moved, t float64) {
	if moved*m.turning <= 0 {
		m.turning = 0
	}
	lead := m.lead()
	running := m.cfg.SlackDeg/2 + m.cfg.WindUpDeg
	if m.turning == 0 {
		if math.Abs(lead) <= running+m.cfg.StictionDeg {
			return
		}
		m.turning = math.Copysign(1, lead)
	}
	excess := lead - m.turning*running
	if excess*m.turning <= 0 {
		return
	}
	turned := m.stick.slip(excess)
	if f := find(m.faults, SlippingCoupling, t); f != nil {
		wanted := turned
		turned = max(-f.ScrewDeg, min(f.ScrewDeg, m.screw+wanted)) - m.screw
		m.middle += wanted - turned
	}
	m.screw += turned
}

// targetTilt returns the final tilt of the head, in arcmin against the standard.
func (m *mount) targetTilt() float64 {
	tilt := m.startTilt + m.gearing*m.cfg.bent(m.screw)/360
	if m.seated {
		tilt += m.press
	}
	return max(-m.limitTilt, min(m.limitTilt, tilt))
}

// balanceDB returns the change of the right channel's level against the left one's by the
// screw, in dB.
func (m *mount) balanceDB(t float64) float64 {
	perTurn := m.balance
	if find(m.faults, WrongScrew, t) != nil {
		perTurn = 6
	}
	return perTurn * m.screw / 360
}
