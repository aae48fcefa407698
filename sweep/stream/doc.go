// Package stream carries what happens in a run to whoever watches it, and what they order
// back to it. A run publishes events and never waits for a reader; it looks for orders once
// per block of sound. STOP is no order: it goes to the jig directly.
//
// The package knows no jig, no sound and no screen.
package stream
