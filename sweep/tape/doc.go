// Package tape computes the effects of a head's tilt for the layout of a tape: the loss
// of treble, the delay between two channels, and the tilt that equals one whole period of
// a tone. It does not depend on sound, screw or estimates.
//
// Tilts are in arcminutes, delays in microseconds, frequencies in hertz.
package tape
