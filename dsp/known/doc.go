// Package known measures a tape against the same recording as a file, the
// reference. It finds the place of the tape's sound in the reference, follows
// its speed and its wow, and compares each channel with its own reference: a
// transfer function, a response by bands, and the delay between the channels
// that the tape adds to those of the mix itself.
//
// Why: a mix may hold true delays between its channels (spaced microphones,
// effects), which on the tape alone cannot be told from a delay that the head
// makes. The reference has them too, and they cancel.
//
// The course: Load keeps a small fingerprint of the reference (fingerprint.go).
// Match.Add gathers 20 s of tape and looks for them in the fingerprint, over
// all places and speeds (locate.go); the best places are confirmed on the
// samples themselves (confirm.go). From there the tape is followed in segments
// of some 5 s (follow.go): the reference is resampled to the tape's own time
// (resample.go) until no delay is left in any frame, and spectra are summed
// (sums.go). Result makes the figures from the sums (result.go).
//
// Memory does not grow with the reference beyond its fingerprint, 3.2 kB per
// second, nor with the tape; the reference is opened again and read through
// while the tape is followed.
//
// The package opens no file itself, reads no clock, starts no goroutine, and
// does not know screws, heads or tilts.
//
// Units: positions are frames of the reference; lags are frames of the tape;
// a delay is positive when what is named second, or the right channel, comes
// later. Speed is that of the tape, 1.01 being one per cent fast.
package known
