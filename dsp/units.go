package dsp

import "math"

// Decibels is a level or a level difference.
type Decibels float64

// Microseconds is a delay.
type Microseconds float64

// NoLevel is the level of nothing at all.
const NoLevel Decibels = -200

// UnknownSD stands for a standard error that cannot be told, in any unit: so
// large that a weight made from it vanishes, and finite so that it can be
// written anywhere.
const UnknownSD = 1e6

// leastPower is that of NoLevel.
const leastPower = 1e-20

// decibels turns a power into decibels, never below NoLevel.
func decibels(power float64) Decibels {
	if !(power > leastPower) {
		return NoLevel
	}
	return Decibels(10 * math.Log10(power))
}

// perNeper is how many decibels a small relative change of power makes.
const perNeper = 10 / math.Ln10
