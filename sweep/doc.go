// Package sweep is the job itself: it moves the screw, lets it settle,
// listens, and from what was heard decides where the head belongs, drives it
// there from the home side, verifies, and can put it back as it was found.
//
// It is handed a jig, a source of sound, a place that saves each step durably
// and somebody who carries out what hands must do. It knows no database, no
// screen, no serial port and no sound card. It never reads the wall clock and
// never sleeps: the sample number of the sound is its clock, so a run on the
// virtual bench repeats exactly.
//
// The course of an alignment is the function course.align; each of its steps
// is a function in the file of its name: found, bracket, refine, decide,
// drive. Whatever stops a run early is a typed outcome (record.Outcome) with a
// plain sentence and what to do about it.
//
// Signs: degrees of screw are relative to where the jig stood when the run
// began; delay is positive when the right channel comes later; tilt in
// arcminutes has the sign of the delay it causes.
package sweep
