// Package jig drives the small motor that turns the screw: it speaks in degrees
// of screw, keeps the screw's home side and its travel, and stops it.
//
// It owns the host's side of the link: one outstanding request, repeats within
// bounded time, the watch over the boot count, STOP. It must not know how the
// line was opened, what is heard, or why the screw is to turn. The line is any
// io.ReadWriteCloser.
//
// Degrees are degrees of screw, positive "forward"; zero is where the jig stood
// when it was opened, until SetZero says otherwise. Microsteps are the jig's own
// absolute count.
//
// A Jig has two goroutines, a reader and a writer, from Open to Close or to the
// end of the line. Neither sends anything of its own: only the caller's polls
// keep the jig's watchdog quiet, so that a program that hangs lets the motor
// stop.
package jig
