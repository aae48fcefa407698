// Package bench is a cassette deck in software: a screw that is turned by a
// virtual jig, the mount that turns it into tilt, a head on a moving tape, and
// the stereo sound that comes out of it, as an audio.Source.
//
// It states its own physics and must not know how the sound will be judged: it
// imports neither the estimators (dsp, apart from the leaf dsp/audio) nor
// sweep, so that a mistake made there cannot be cancelled by the same mistake
// made here.
//
// # Geometry and signs
//
// Two tracks 0.6 mm wide, their centres 0.9 mm apart, pass the gap at
// 47.6 mm/s. Tilt is the angle of the head's gap against the pattern recorded
// on the tape, in arcminutes; positive tilt makes the right channel later, by
// 5.50 microseconds per arcminute. The output of a track is the mean of the
// recorded signal over the track's width, each line of the tape read with its
// own delay y*tan(tilt)/v. With the antiderivative of the signal in a table
// that mean is a difference of two readings, so azimuth loss and delay both
// follow from the geometry, for any course of the tilt in time.
//
// # Decks unlike that
//
// Options of a profile, all 0 unless set, make a deck unlike this: cores of other
// width and spacing, gaps that are bowed and less sensitive at one edge (then read
// strip by strip), contact that changes as the screw turns, a worn core, gearing that
// changes along the screw, stick-slip, and a head that creeps on after each turn. The
// truth stays the tilt at which the gaps lie along the recorded pattern; where the
// treble is greatest stands beside it. With all of them at 0 the sound is, bit for
// bit, what it was without them.
//
// # Time
//
// Sound is made only when Next is called; the jig's clock is advanced by as
// many frames as were made. Nothing reads a wall clock. Every random process
// has a stream of its own derived from the seed, so a run repeats exactly and
// switching one process off leaves the others as they were.
package bench
