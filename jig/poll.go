package jig

import (
	"context"
	"errors"
	"fmt"
	"time"

	protocol "headtrue/firmware-protocol"
)

// Timings of the poller.
const (
	pollPeriod = 20 * time.Millisecond
	// permitLasts is the time that the poller runs without Renew. With the 0.5 s of
	// silence that the jig allows, and the transit of the last request, the motor of a
	// hung program stands within 0.8 s.
	permitLasts = 280 * time.Millisecond
)

// mostUnanswered statuses in a row without a reply, about a second, end the session.
const mostUnanswered = statusTries

// mostSamples is the number of samples kept until Heard returns them.
const mostSamples = 4096

// Sample is one status on both clocks: the jig's time was Micros at some time between
// Asked and Heard. Asked is zero for an event, since no request caused it.
type Sample struct {
	Micros       uint64
	Asked, Heard time.Time
}

// poll runs on the clock. It asks only while the permit lasts, so the jig stops when the
// program hangs.
func (j *Jig) poll() {
	j.link.guarded(func() {
		if j.permitted() {
			j.link.poll(j.statusTimeout)
		}
	})
}

func (j *Jig) permitted() bool {
	j.mu.Lock()
	defer j.mu.Unlock()
	return !j.clock.Now().After(j.permit)
}

// Renew lets the poller ask for another 0.28 s. The control loop calls it with each block
// of sound.
func (j *Jig) Renew() {
	j.mu.Lock()
	defer j.mu.Unlock()
	j.permit = j.clock.Now().Add(permitLasts)
}

// Heard returns the samples since the last call, oldest first.
func (j *Jig) Heard() []Sample {
	j.mu.Lock()
	defer j.mu.Unlock()
	s := j.samples
	j.samples = nil
	return s
}

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

// Look returns the state for a loop that waits for the jig: the last status heard or,
// without a poller, a new one. It returns an error if the jig no longer answers.
func (j *Jig) Look(ctx context.Context) (Status, error) {
	if !j.polled {
		return j.Status(ctx)
	}
	j.Renew()
	s := j.known()
	if err := j.link.over(); err != nil {
		return s, fmt.Errorf("asking for the status: %w", err)
	}
	if n := j.link.silent(); n >= mostUnanswered {
		return s, fmt.Errorf("asking for the status: %w: %d tries of %v", ErrNoAnswer, n, j.statusTimeout)
	}
	return s, ctx.Err()
}

// askStatus asks for the status, with a new request each time, until a reply comes.
func (j *Jig) askStatus(ctx context.Context) (a answer, err error) {
	for range statusTries {
		a, err = j.link.request(ctx, protocol.TypeStatus, nil, nil, j.statusTimeout, 1)
		if !errors.Is(err, ErrNoAnswer) {
			return a, err
		}
	}
	return a, fmt.Errorf("%w: %d tries of %v", ErrNoAnswer, statusTries, j.statusTimeout)
}
