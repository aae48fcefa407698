// Package hand is a person with a screwdriver, in software. A Hand hears the requests of the
// guide and turns the azimuth screw of a virtual deck by them: late, not far enough or too far,
// in strokes, with some pressure on the head. It has no other sense: it sees neither the sound
// nor the truth.
//
// # Signs and units
//
// Degrees are those of the screw, positive clockwise as seen on its head, from as found. Tilts
// are arcminutes. Time is that of the sound, in seconds: it passes by Advance, and a request
// counts from the instant at which Tell is called.
//
// # Repeats
//
// The same model and seed, told the same requests at the same times, turn the screw alike.
package hand
