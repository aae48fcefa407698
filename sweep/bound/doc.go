// Package bound computes how well a measurement can be made at best: lower bounds
// on the standard deviation of unbiased estimates (Cramér and Rao), and the least
// that the wander of the tape leaves together with noise (generalised least
// squares), the spectrum of both being known. It knows nothing of how this program
// measures, so that its estimates can be held against something they did not
// make.
//
// Times are in seconds, frequencies in hertz, tilts in arcminutes, delays in
// microseconds, levels in decibels; signal-to-noise, coherence (magnitude
// squared) and power are plain ratios. What cannot be known at all has the
// bound +Inf.
package bound
