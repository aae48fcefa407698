// Package monitor listens to a head without a jig: blocks of sound go in, and about 25 times a
// second a snapshot of what is heard comes out. It does no input or output, reads no clock,
// starts no goroutine, and does not depend on a jig or a screen: the sample number is its
// time.
//
// Begin with New; Add takes blocks and hands each snapshot, Now, to a function.
//
// Four lengths of sound are heard at once. Of each update (0.04 s) levels, treble and a
// tone's phase are taken and averaged over the last ones. A piece (0.25 s) gives a delay.
// A stretch of 2 s gives what needs time: coherence, hum, polarity. Two meters of speed and
// flutter (dsp/speed) take turns, so that their figures are those of the last 15 to 30 s.
//
// As long as the head stands still, all pieces of the last minute count for its tilt, and
// its uncertainty, by noise and by the tape's wander, becomes smaller. As soon as a step
// among the pieces is greater than these allow (estimate.Still.Moved), the earlier ones are
// dropped and the tilt begins anew. A step too small to be seen shifts the tilt by no more
// than a few of its uncertainties, for a minute at most.
//
// A tone gives the delay only to whole periods. They are counted from update to update while
// the head turns, from the smallest delay that fits when the tone was first heard; a break in
// the sound begins the count anew.
//
// Memory does not grow with the sound.
package monitor
