// Package session does all input and output of one run. It moves the screw, hears the sound,
// and lays both on one axis of time. It keeps listening clips, asks a person, saves the
// record before the next move, and publishes events. Only this package touches the jig. It
// decides which sound is unusable and how a run ends after an error.
//
// It neither searches for the optimum nor depends on the purpose of a run.
package session
