package dsp

import "math"

// Decibels is a level or a level difference.
type Decibels float64

// Microseconds is a delay.
type Microseconds float64

// NoLevel is the level without any power.
const NoLevel Decibels = -200

// UnknownSD stands for an unknown standard error, in any unit: so large that its weight
// vanishes, and finite so that it can be written anywhere.
const UnknownSD = 1e6

// leastPower is the power of NoLevel.
const leastPower = 1e-20

// decibels converts a power to decibels, never below NoLevel.
func decibels(power float64) Decibels {
	if !(power > leastPower) {
		return NoLevel
	}
	return Decibels(10 * math.Log10(power))
}

// perNeper is decibels per relative change of power.
const perNeper = 10 / math.Ln10
