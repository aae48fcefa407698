package jig

import (
	"context"
	"math"

	protocol "headtrue/firmware-protocol"
)

// Inspection is what the jig knows beside its status.
type Inspection = protocol.Inspection

// Inspect asks for what the jig knows beside its status. A jig that does not know the
// request has nothing to show, no encoder among that.
func (j *Jig) Inspect(ctx context.Context) (Inspection, error) {
	a, err := j.link.request(ctx, protocol.TypeInspect, nil, nil, j.timeout, replyTries)
	if err != nil {
		return Inspection{}, err
	}
	_, i, err := protocol.ParseInspection(a.body)
	return i, err
}

// shaft is where the encoder stood when the count stood at a place; the rotor is
// compared with that after each move.
type shaft struct {
	watched bool
	count   int32
	angle   uint16
}

// RoundFullSteps is by how many full steps, or whole rounds of them, a rotor falls
// behind: to the next place where its field holds it (common practice, no source). Half
// of that, 3.6 degrees at 200 steps a turn, is more than an encoder of 12 bits is off by,
// and the play of its magnet.
const RoundFullSteps = 4

// shaftLooks is how often the encoder is looked at before steps are called lost: it
// tells what it saw some milliseconds ago.
const shaftLooks = 6

// watchShaft takes the standing shaft for where the count is, if there is an encoder
// that sees it.
func (j *Jig) watchShaft(ctx context.Context) error {
	angle, seen, err := j.ShaftAngle(ctx)
	if err != nil {
		return err
	}
	count := j.known().Microsteps
	j.mu.Lock()
	defer j.mu.Unlock()
	j.shaft = shaft{seen, count, angle}
	return nil
}

// ShaftAngle is that of the motor's shaft in 4096ths of a turn, where an encoder sees
// it.
func (j *Jig) ShaftAngle(ctx context.Context) (angle uint16, seen bool, err error) {
	if j.greeting.Features&protocol.FeatureEncoder == 0 {
		return 0, false, nil
	}
	i, err := j.Inspect(ctx)
	return i.Angle, err == nil && i.Encoder == protocol.EncoderOK, err
}

// ShaftWatched says that an encoder checks each move.
func (j *Jig) ShaftWatched() bool {
	j.mu.Lock()
	defer j.mu.Unlock()
	return j.shaft.watched
}

// checkShaft compares the shaft that has come to stand with the count.
func (j *Jig) checkShaft(ctx context.Context, s Status, pass Watch) error {
	j.mu.Lock()
	seen := j.shaft
	j.mu.Unlock()
	if !seen.watched {
		return nil
	}
	for look := 0; ; look++ {
		i, err := j.Inspect(ctx)
		if err != nil || i.Encoder != protocol.EncoderOK {
			return err // what is not seen is not known to be wrong
		}
		ahead := j.Ahead(seen.angle, i.Angle, float64(s.Microsteps)-float64(seen.count))
		if 2*math.Abs(ahead) < float64(RoundFullSteps*j.profile.Microsteps) {
			return nil
		}
		if look == shaftLooks {
			return &LostStepsError{Microsteps: int(math.Round(ahead)), Status: s}
		}
		if _, err := pass(ctx, s); err != nil {
			return err
		}
	}
}

// Ahead is by how many microsteps, within half a turn of the motor, a count that went
// so many microsteps on is ahead of a shaft that went from one angle to another.
func (j *Jig) Ahead(from, to uint16, counted float64) float64 {
	perAngle := float64(j.greeting.MicrostepsPerMotorTurn) / protocol.AnglesPerTurn
	turned := (float64(to) - float64(from)) * perAngle
	return math.Remainder(counted-turned, float64(j.greeting.MicrostepsPerMotorTurn))
}
