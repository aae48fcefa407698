package bench

// State is how a deck stands between two programs that run it, with the motor off and the
// blade away: the screw, and what is random in the drive. A deck that no program has run has
// the zero State.
type State struct {
	Programs       uint64  // that have run the deck; each hears noise of its own
	ScrewDeg       float64 // from as found by the first program
	RotorDeg       float64 // of the rotor from the motor's field
	ZeroMicrosteps float64 // of the shaft as found by the first program
	// Backlash: MiddleDeg is rotor minus screw in its middle; FirstLeadDeg is where the first
	// seating of the blade has it or, if BladeWasSeated is false, will have it.
	MiddleDeg, FirstLeadDeg float64
	BladeWasSeated          bool
}

// Resume is New for a deck that earlier programs have run, as Rest left it; j stands as it
// did then. The deck and its tape are those of the seed, the tape is rewound, and the
// profile's faults of sound and mount come anew. With the zero State it is New.
func Resume(p Profile, seed uint64, j Jig, s State) (*Bench, error) {
	b, err := newBench(p, seed, s, j.Advance, lookAt(j))
	if err != nil {
		return nil, err
	}
	b.programs = s.Programs
	return b, nil
}

// noiseSeed is the seed of what is random in the sound and the drive of one program.
func (s State) noiseSeed(seed uint64) uint64 {
	if s.Programs == 0 {
		return seed
	}
	return stream(seed^s.Programs<<32, streamPrograms).Uint64()
}

// resume puts the mount into a state; now are the microsteps of the shaft.
func (m *mount) resume(s State, now float64) {
	m.screw, m.rotor, m.zero = s.ScrewDeg, s.RotorDeg, s.ZeroMicrosteps
	m.middle, m.firstLead, m.everSeated = s.MiddleDeg, s.FirstLeadDeg, s.BladeWasSeated
	m.rotorDeg = m.angle(now)
	m.tilt = m.targetTilt()
	m.rest, m.creep.slow = m.tilt, m.tilt
}

// Turn lets a number of frames pass without making sound: for a jig that is used alone.
func (b *Bench) Turn(frames int) {
	for frames > 0 {
		phase := int(b.frame % controlFrames)
		if phase == 0 {
			b.mount.step(b.look(), b.seconds())
		}
		n := min(controlFrames-phase, frames)
		b.advance(n)
		b.frame += int64(n)
		frames -= n
	}
}

// Rest lets time pass for the jig j of the bench, without a host, until the motor's current is
// off and the blade away, and returns the state of the deck. By the next program the head has
// settled: no creep is left.
func (b *Bench) Rest(j Jig) State {
	m, t, look := b.mount, b.seconds(), lookAt(j)
	for look().energised || m.energised || m.seated {
		j.Advance(controlFrames)
		m.step(look(), t)
	}
	return State{
		Programs: b.programs + 1, ScrewDeg: m.screw, RotorDeg: m.rotor, ZeroMicrosteps: m.zero,
		MiddleDeg: m.middle, FirstLeadDeg: m.firstLead, BladeWasSeated: m.everSeated,
	}
}
