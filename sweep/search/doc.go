// Package search finds the top of the treble and the screw position that belongs to it. It
// uses a tone while the screw turns (turn, passes), a tone at stops, or a programme
// (approach, bracket, refine). At the place it listens until the result is certain
// (driveback, dwell, atplace, mixcheck). It keeps the history of steps that all these
// methods share, and detects sound that does not follow the screw (following, arrived).
//
// It moves and listens only through package session and decides by package estimate. It does
// not depend on the purpose of a run, nor on how the head was found or is left.
package search
