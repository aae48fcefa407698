// Package known measures a tape against the same recording as a file, the reference. It
// finds the position of the tape's sound in the reference, follows the tape's speed and
// wow, and compares each channel with its reference: a transfer function, a response by
// bands, and the delay between the channels that the tape adds to the delays of the mix
// itself.
//
// Reason: a mix may hold true delays between its channels (spaced microphones, effects).
// On the tape alone they cannot be distinguished from a delay made by the head. The
// reference has them too, so they cancel.
//
// Steps: Load keeps a small fingerprint of the reference (fingerprint.go). Match.Add
// collects 20 s of tape and searches the fingerprint for them, over all positions and
// speeds (locate.go); the best candidates are confirmed on the samples themselves
// (confirm.go). From there the tape is followed in segments of about 5 s (follow.go): the
// reference is resampled to the tape's own time (resample.go) until no frame has any
// delay left, and spectra are summed (sums.go). Result computes the figures from the sums
// (result.go).
//
// Memory grows neither with the tape nor with the reference, except for its fingerprint,
// 3.2 kB per second; the reference is opened again and read once while the tape is
// followed.
//
// The package opens no file, reads no clock, starts no goroutine, and does not depend on
// screws, heads or tilts.
//
// Units: positions are frames of the reference; lags are frames of the tape; a delay is
// positive if the second item, or the right channel, comes later. Speed is that of the
// tape, 1.01 being one per cent fast.
package known
