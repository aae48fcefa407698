// Package dsp measures two channels of sound: levels, treble balance, a tone,
// and the delay between the channels. It is pure arithmetic on samples: it
// opens no device or file, reads no clock and starts no goroutine. Nor does it
// know screws, heads or tilts; it says how late the right channel is, in
// microseconds, and what that means for a head is for others to say.
//
// The one type to begin with is Meter: blocks go in with Add, a Reading comes
// out. A frame is the unit inside: 1024 frames of sound at 48 kHz (21 ms) under
// a Hann window, a new one each 512. Each is judged (clipped, silent, drop-out,
// click) before it counts.
//
// Levels are decibels rms re a full-scale sine, so that a sine which just
// reaches ±1 reads 0 dBFS. A delay is positive when the right channel comes
// later.
package dsp
