// Package jig drives the small motor that turns the screw. It works in degrees of screw,
// keeps the home side and the travel of the screw, and stops it.
//
// The package owns the host's side of the link: one outstanding request, repeats within
// bounded time, the watch over the boot count, STOP. It does not depend on how the line
// was opened, what is heard, or why the screw turns. The line is any io.ReadWriteCloser.
//
// Degrees are degrees of screw, positive "forward". Zero is the position at Open until
// SetZero changes it. Microsteps are the jig's own absolute count.
//
// A Jig has two goroutines, a reader and a writer, from Open to Close or to the end of
// the line. Neither sends anything of its own. With Polled the clock adds a poller, which
// asks for the status as long as the caller renews its permit. Without that, or without the
// caller's own polls, the jig's watchdog stops the motor: so it does when the program hangs.
package jig
