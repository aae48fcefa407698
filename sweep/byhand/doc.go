// Package byhand guides a person who turns the azimuth screw with a screwdriver. It follows
// the turn by the delay between the channels, hears both dull edges, finds the optimum as with
// a jig, and leads the person there: which way, and about how far.
//
// A hand has no degrees: the place of the screw is the tilt by the delay. The package hears by
// a session and publishes requests as guidance; screen and cues are elsewhere. It depends
// neither on a jig nor on the virtual hand.
package byhand
