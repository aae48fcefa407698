// Package estimate computes from what a run has heard where the head belongs: the drive
// train between jig and head (mount, marginal, trajectory), the treble's curve (curve, kinds,
// multiband), the noise about both (drift, posterior), and the decision with its uncertainty
// (decide, verdict). It is pure: the same steps and task always give the same figures. It
// knows no jig, no sound and no clock.
//
// Degrees are of the screw, from where the jig stood when the run began; tilts are in
// arcminutes with the sign of the delay that they cause; levels are in decibels.
package estimate
