// Package stream carries the events of a run to its readers, and their orders back to it. A
// run publishes events and never waits for a reader; it reads orders once per block of
// sound. STOP is no order: it goes to the jig directly.
//
// The package does not depend on a jig, sound or screen.
package stream
