// Package bench is a cassette deck in software: a screw turned by a virtual jig, the
// mount that converts it to tilt, a head on a moving tape, and the resulting stereo sound
// as an audio.Source.
//
// The package states its own physics and does not depend on how the sound is judged. It
// imports neither the estimators (dsp, apart from the leaf dsp/audio) nor sweep, so the
// same mistake here and there cannot cancel.
//
// # Geometry and signs
//
// Two tracks 0.6 mm wide, their centres 0.9 mm apart, pass the gap at 47.6 mm/s. Tilt is
// the angle of the head's gap against the pattern recorded on the tape, in arcminutes.
// Positive tilt delays the right channel by 5.50 microseconds per arcminute. The output
// of a track is the mean of the recorded signal over the track's width; each line of the
// tape is read with its own delay y*tan(tilt)/v. With the antiderivative of the signal in
// a table, that mean is a difference of two table values. So azimuth loss and delay both
// follow from the geometry, for any course of the tilt in time.
//
// # Other decks
//
// Options of a profile, all 0 by default, change this deck: cores of other width and
// spacing, gaps that are bowed and less sensitive at one edge (then read strip by strip),
// contact that changes with the screw, a worn core, gearing that changes along the screw,
// stick-slip, and a head that creeps after each turn. The true optimum stays the tilt at
// which the gaps lie along the recorded pattern. The tilt of greatest treble is a
// separate field. With all options at 0 the sound is, bit for bit, that without them.
//
// # Time
//
// Next makes the sound or, in lock-step, hands over what was made while the host waited for
// the jig. The jig's clock advances by the same number of frames. Nothing reads a wall clock. Every random process has its own stream, derived from the
// seed, so a run repeats exactly, and switching one process off does not change the
// others.
package bench
