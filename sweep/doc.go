// Package sweep does the job: it moves the screw, lets it settle, listens, and computes the
// optimum. It drives the head there from the home side, verifies, and can put the head back
// as found.
//
// Its inputs are a jig, a source of sound, a function that saves each step durably, and a
// person for the work by hand. It depends on no database, screen, serial port or sound card.
// It never reads the wall clock and never sleeps: the sample number of the sound is its
// clock, so a run on the virtual bench repeats exactly.
//
// The method course.align is the sequence of an alignment. It begins in found.go and ends in
// left.go; the bracket, the refinement and the drive to the optimum are in package search.
// Anything that stops a run early is a typed outcome (record.Outcome) with a plain sentence
// and a remedy.
//
// Signs: degrees of screw are relative to the position of the jig at the start of the run;
// delay is positive when the right channel comes later; tilt in arcminutes has the sign of
// the delay it causes.
package sweep
