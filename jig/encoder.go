package jig

import (
	"context"
	"math"

	protocol "headtrue/firmware-protocol"
)

// Inspection is the jig's data beyond its status.
type Inspection = protocol.Inspection

// Inspect asks for the jig's data beyond its status. A jig without this request returns
// an empty Inspection, so without an encoder.
func (j *Jig) Inspect(ctx context.Context) (Inspection, error) {
	a, err := j.link.request(ctx, protocol.TypeInspect, nil, nil, j.timeout, replyTries)
	if err != nil {
		return Inspection{}, err
	}
	_, i, err := protocol.ParseInspection(a.body)
	return i, err
}

// RoundFullSteps is the number of full steps, or a multiple of it, by which a rotor falls
// behind: to the next place at which its field holds it (common practice, no source).
// Half of it, 3.6 degrees at 200 steps a turn, exceeds the error of a 12-bit encoder and
// the looseness of its magnet.
const RoundFullSteps = 4

// watchShaft pairs the angle of the standing shaft with the count, if an encoder sees the
// shaft.
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

// ShaftAngle returns the angle of the motor's shaft in 4096ths of a turn, if an encoder
// sees it.
func (j *Jig) ShaftAngle(ctx context.Context) (angle uint16, seen bool, err error) {
	if j.greeting.Features&protocol.FeatureEncoder == 0 {
		return 0, false, nil
	}
	i, err := j.Inspect(ctx)
	return i.Angle, err == nil && i.Encoder == protocol.EncoderOK, err
}

// ShaftWatched reports whether an encoder checks each move.
func (j *Jig) ShaftWatched() bool {
	j.mu.Lock()
	defer j.mu.Unlock()
	return j.shaft.watched
}

// Ahead returns the microsteps by which the count is ahead of the shaft, within half a
// motor turn, when the count has changed by counted and the angle from from to to.
func (j *Jig) Ahead(from, to uint16, counted float64) float64 {
	perAngle := float64(j.greeting.MicrostepsPerMotorTurn) / protocol.AnglesPerTurn
	turned := (float64(to) - float64(from)) * perAngle
	return math.Remainder(counted-turned, float64(j.greeting.MicrostepsPerMotorTurn))
}
