// Package faults has the limits beyond which sound means nothing for a head: it is silent,
// clipped, mono, one channel is dead or inverted, or the tone is not there. A run and a
// monitor share them. It judges readings; what to do about a fault is left to others.
package faults

import (
	"math"

	"headtrue/dsp"
)

// Levels in dBFS below which nothing is played. Programme and tone lie far above SilentDBFS.
// The hiss of a running tape lies above TapeOffDBFS, which applies to the treble band alone.
const (
	SilentDBFS  = -60
	NoInputDBFS = -120 // below the noise of any deck's output
	TapeOffDBFS = -75
)

// DullProgrammeDB is the treble balance below which a programme is useless: a low-passed
// programme lies far below it, a head with a tilt of one degree does not.
const DullProgrammeDB = -45

// PolaritySeconds is the least listening time before polarity is judged: in a short stretch
// far from the centre, a delay of half a period looks like inverted polarity.
const PolaritySeconds = 1.5

// Clipped reports whether more than a twentieth of the frames is clipped.
func Clipped(m dsp.Reading) bool { return m.ClippedFrames*20 > max(m.Frames, 1) }

// DeadChannel returns the channel that is silent while the other plays, or -1. Levels are
// left and right.
func DeadChannel(levelDBFS [2]float64) int {
	const gapDB = 30
	switch d := levelDBFS[0] - levelDBFS[1]; {
	case d > gapDB:
		return 1
	case d < -gapDB:
		return 0
	}
	return -1
}

// Inverted reports inverted polarity by the correlation in the mid band, after the delay is
// removed. Most music has a correlation of 0.4 to 1 there; one piece with wide panning has
// -0.3 (testdata/README.md).
func Inverted(m dsp.Reading) bool { return m.Correlation < -0.4 }

// DelayCertain reports whether the delay, and the tilt that causes it, is the true one. An
// uncertain cross-correlation may be as high at another delay; removal of a wrong delay makes
// the channels look inverted as often as not.
func DelayCertain(tiltArcmin, delaySDUS, misfit float64) bool {
	return math.Abs(tiltArcmin) < 40 && delaySDUS > 0 && delaySDUS < 10 && misfit < 10
}

// ToneThere reports whether the tone stands clear of the noise in either channel.
func ToneThere(m dsp.Reading) bool { return max(m.ToneToNoise[0], m.ToneToNoise[1]) > 3 }

// Same reports whether over 99 % of the samples are equal: somewhere one channel was sent to
// both. Two inputs with the same sound at -60 dBFS, 16 bits, have some per cent of equal
// samples by chance.
func Same(m dsp.Reading) bool { return m.Same > 0.99 }
