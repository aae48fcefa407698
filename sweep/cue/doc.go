// Package cue makes the sounds that guide a person who turns the azimuth screw by hand, with
// the eyes on the screw, and recognises these sounds in what the input hears.
//
// # The sounds
//
// All are sines of 500 to 2600 Hz at most 14 dB below full scale, with ramps of 12 ms. They
// keep away from the tones of test tapes, so that they cannot be taken for the tape.
//
//	act         sound                                                  repeated after
//	hands-off   one soft pulse, 580 Hz                                 2.0 s
//	turn        two short pulses, 700 Hz, while no target is known;    1.0 s
//	            else the distance
//	edge        1300 and 1850 Hz by turns, three times, quickly        1.2 s
//	mark        as edge                                                1.2 s
//	halfway     as turn without a target                               1.0 s
//	slower      three falling notes, 1900, 1550, 1280 Hz               2.0 s
//	wrong-way   two long low notes, 520 Hz                             1.6 s
//	hold        700 and 1750 Hz together, 0.7 s                        1.0 s
//	trouble     500 and 560 Hz together, which is rough, 0.3 s         0.5 s
//	optimum     four rising notes, 1300, 1625, 1950, 2600 Hz           3.0 s
//
// The distance is a pulse of 60 ms. The nearer the target, the higher it is and the sooner it
// comes again: from 0.6 s at 64 tolerances or more to 0.12 s at one. Within the tolerance it is
// a steady tone. If the tilt lies below the target the pulses have 500 to 860 Hz, if it lies
// above 1300 to 2236 Hz: the two never overlap. Slower, wrong-way and edge have the distance
// between their repetitions if it is known.
//
// Without a request for one second the sound ends: a run that hangs leaves silence.
//
// The intervals of the pulses vary by 15 % at random. A regular rhythm has so few frequencies
// that a tape could have them too; a random one is recognised (Detector).
//
// The package has no output, no clock and no goroutine. Choice and meaning of the sounds are
// the project's own, no source; that pulses come faster near a target is common practice.
package cue
