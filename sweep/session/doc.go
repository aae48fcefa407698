// Package session is all input and output of one run: the screw, the sound and the one axis
// of time that both are laid on, listening clips, what a person is asked, the record that is
// saved before the next move, and what is told as it happens. It alone touches the jig. It
// says what makes sound useless and how a run ends that an error broke off.
//
// It knows nothing of how the top is found, nor what a run is for.
package session
