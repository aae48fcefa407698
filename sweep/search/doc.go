// Package search finds the top of the treble and the place of the screw that belongs to it:
// a tone while the screw turns (turn, passes), a tone by stopping, and a programme (approach,
// bracket, refine), and at the place it listens until that is sure (driveback, dwell, atplace,
// mixcheck). It keeps the history of steps on which all of them go, and notices when the sound
// does not follow the screw (following, arrived).
//
// It moves and listens through package session only, and decides by package estimate. It
// does not know what a run is for, nor how the head was found or is left.
package search
