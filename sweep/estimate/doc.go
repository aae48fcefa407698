// Package estimate computes from a run's readings where the head belongs: the drive train
// between jig and head (mount, marginal, trajectory), the treble curve (curve, kinds,
// multiband), the noise of both (drift, posterior), and the decision with its uncertainty
// (decide, verdict). It is pure: the same steps and task always give the same figures. It
// has no access to the jig, the sound or a clock.
//
// Degrees are of the screw, from the position of the jig at the start of the run. Tilts are
// in arcminutes with the sign of the delay that they cause. Levels are in decibels.
package estimate
