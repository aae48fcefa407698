package jig

import (
	"math"

	protocol "headtrue/firmware-protocol"
)

// heard takes the status of a frame from the jig and the request that it answers. The
// request is nil for an event and for a reply to no waiting request. The reader calls it.
func (j *Jig) heard(s protocol.Status, to *await) error {
	j.mu.Lock()
	defer j.mu.Unlock()
	if !j.greeted {
		return nil
	}
	if s.Boot != j.last.Boot {
		e := &ResetError{Before: j.last.Boot, After: s.Boot, Cause: s.Cause}
		j.last, j.micros = s, uint64(s.Micros)
		e.Status = j.statusLocked()
		return e
	}
	later := s.Micros - j.last.Micros
	if wrappedEarly(j.last.Micros, s.Micros) {
		later -= earlyWrap
	} else if to == nil && int32(later) < 0 {
		return nil // an old frame that came twice
	}
	j.micros += uint64(later)
	if s.Epoch == j.last.Epoch {
		j.turned(float64(s.Position) - float64(j.last.Position))
	} else {
		j.homeRun = 0
		j.track = track{}
	}
	if s.Energised() != j.last.Energised() {
		j.homeRun = 0 // the rotor may have jumped
	}
	j.last = s
	j.follow(s, to)
	return nil
}

// earlyWrap is the value at which the time of firmware 1.0 wraps, in microseconds: that
// firmware counted half microseconds in 32 bits.
const earlyWrap = 1 << 31

// wrappedEarly reports whether the time went back at the early wrap. It needs at least
// one status in ten seconds.
func wrappedEarly(before, now uint32) bool {
	const near = 10e6
	return before < earlyWrap && before >= earlyWrap-near && now < near
}

func (j *Jig) turned(microsteps float64) {
	j.travel += math.Abs(microsteps)
	home := microsteps * float64(j.profile.Direction*j.profile.HomeSide)
	if home < 0 {
		j.homeRun = 0
	} else {
		j.homeRun += home
	}
}

// mostSamples is the number of samples kept until Heard returns them.
const mostSamples = 4096

// follow adds a status to the samples and to the track. The caller holds the lock.
func (j *Jig) follow(s protocol.Status, to *await) {
	sample := Sample{Micros: j.micros, Heard: j.clock.Now()}
	if to != nil {
		sample.Asked, sample.Heard = to.asked, to.heard
	}
	if len(j.samples) < mostSamples {
		j.samples = append(j.samples, sample)
	}
	if to != nil && to.kind == protocol.TypeMove && to.answer.reply.Code == protocol.OK {
		j.track.taken()
	}
	if to != nil && to.kind == protocol.TypeStatus && s.Stepped() {
		j.track.stepped(j.micros - uint64(s.Micros-to.answer.firstStepMicros))
	}
	j.track.heard(j.micros, s.Position, s.Moving())
}

// Heard returns the samples since the last call, oldest first.
func (j *Jig) Heard() []Sample {
	j.mu.Lock()
	defer j.mu.Unlock()
	s := j.samples
	j.samples = nil
	return s
}

// At returns the position of the screw at a time of the jig, in microseconds. Up to
// KnownUntil it rests on the jig's statuses; beyond that it is a prediction.
func (j *Jig) At(micros float64) Degrees {
	j.mu.Lock()
	defer j.mu.Unlock()
	return j.profile.degrees(j.track.at(micros) - float64(j.zero))
}

// KnownUntil returns the jig's time of the last status, in microseconds.
func (j *Jig) KnownUntil() float64 {
	j.mu.Lock()
	defer j.mu.Unlock()
	return float64(j.micros)
}

// StandsSince returns the jig's time at which the last move ended, in microseconds; 0
// before any move.
func (j *Jig) StandsSince() float64 {
	j.mu.Lock()
	defer j.mu.Unlock()
	return j.track.stands()
}
