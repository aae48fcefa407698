// Package dsp measures two channels of sound: levels, treble balance, a tone, and the
// delay between the channels. It computes on samples only: it opens no device or file,
// reads no clock and starts no goroutine. It does not depend on screws, heads or tilts:
// it reports the delay of the right channel, in microseconds, and leaves its meaning for
// a head to others.
//
// Begin with the type Meter: Add takes blocks, and Reading returns the result. Inside, a
// frame is 1024 samples per channel at 48 kHz (21 ms) under a Hann window, a new one each
// 512. Each frame is checked (clipped, silent, drop-out, click) before it counts.
//
// Levels are decibels rms re a full-scale sine: a sine that just reaches ±1 reads 0 dBFS.
// A positive delay means that the right channel comes later.
package dsp
