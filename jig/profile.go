package jig

import "math"

// Degrees is an angle of the screw, positive forward.
type Degrees float64

// Profile describes the drive between the motor's count and the screw.
type Profile struct {
	Name         string
	StepsPerTurn int // full steps per turn of the motor
	Microsteps   int // per full step
	// Gear is the turns of the motor per turn of the screw.
	Gear float64
	// Direction is +1 if the motor's count grows as the screw goes forward, or -1.
	Direction int
	// SpeedDegPerS is the speed of the screw, degrees per second. 0, or more than the
	// jig's maximum, means the jig's maximum.
	SpeedDegPerS float64
	// AccelDegPerS2 is the slowest acceleration to allow for, degrees per second squared.
	// 0 uses the jig's own figure. It only limits how long a move may take.
	AccelDegPerS2 float64
	// OvershootDegrees is how far the screw goes beyond a place to come back to it from
	// its home side. It must exceed the backlash. 0 means 30.
	OvershootDegrees Degrees
	// HomeSide is +1 if the screw arrives turning forward, or -1. 0 means +1.
	HomeSide int
}

func (p Profile) filled() Profile {
	if p.OvershootDegrees == 0 {
		p.OvershootDegrees = 30
	}
	if p.HomeSide == 0 {
		p.HomeSide = 1
	}
	if p.Direction == 0 {
		p.Direction = 1
	}
	if p.Gear == 0 {
		p.Gear = 1
	}
	return p
}

// MicrostepsPerTurn returns the microsteps of the motor per turn of the screw.
func (p Profile) MicrostepsPerTurn() float64 {
	return float64(p.StepsPerTurn) * float64(p.Microsteps) * p.Gear
}

// degrees converts a difference of counts to degrees.
func (p Profile) degrees(microsteps float64) Degrees {
	return Degrees(microsteps * 360 / p.MicrostepsPerTurn() * float64(p.Direction))
}

// microsteps converts degrees to a difference of counts, not rounded.
func (p Profile) microsteps(d Degrees) float64 {
	return float64(d) / 360 * p.MicrostepsPerTurn() * float64(p.Direction)
}

// speed converts degrees per second to microsteps per second, at most limit. 0 means the
// limit. Any other speed is at least 1 microstep per second: a jig refuses 0.
func (p Profile) speed(degPerS float64, limit uint16) uint16 {
	if degPerS == 0 {
		return limit
	}
	s := math.Round(math.Abs(p.microsteps(Degrees(degPerS))))
	if !(s > 1) { // NaN also gives 1
		return 1
	}
	return uint16(math.Min(s, float64(limit)))
}
