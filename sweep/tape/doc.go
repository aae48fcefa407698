// Package tape computes what the layout of a tape makes of a head's tilt: the treble that
// it takes, the delay that it makes between two channels, and the tilt that a whole period
// of a tone is. It knows no sound, no screw and no estimate.
//
// Tilts are in arcminutes, delays in microseconds, frequencies in hertz.
package tape
