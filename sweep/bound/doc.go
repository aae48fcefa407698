// Package bound computes the best possible accuracy of a measurement: lower bounds on the
// standard deviation of unbiased estimates (Cramér and Rao), and the least uncertainty
// under the tape's wander and noise together (generalised least squares), if the spectrum
// of both is known. It does not depend on how this program measures, so that the
// program's estimates can be compared with an independent figure.
//
// Times are in seconds, frequencies in hertz, tilts in arcminutes, delays in
// microseconds, levels in decibels; signal-to-noise, coherence (magnitude squared) and
// power are plain ratios. If a quantity cannot be measured at all, its bound is +Inf.
package bound
