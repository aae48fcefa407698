package bench

import "fmt"

// Hand turns the screw as a person does, by a screwdriver held in the hand.
type Hand interface {
	// Advance lets a number of frames of sound pass, Rate per second.
	Advance(frames int)
	Grip() Grip
}

// Grip is the effect of a hand on the screw at one instant.
type Grip struct {
	// ScrewDeg is the angle of the screw, from as found; positive is clockwise as seen on
	// its head.
	ScrewDeg float64
	// TiltArcmin is the tilt of the head by the pressure of the blade.
	TiltArcmin float64
	Touching   bool // the blade is in the slot
}

// jigOnly are the faults of what holds a jig's blade.
var jigOnly = []string{SlippingCoupling, BladeOut}

// NewByHand makes a bench whose screw is turned by h: without motor, slack, wind-up and
// stick-slip, and with the pressure of the hand in place of the profile's blade. All else is
// as with a jig.
func NewByHand(p Profile, seed uint64, h Hand) (*Bench, error) {
	for _, kind := range jigOnly {
		for _, f := range p.Faults {
			if f.Kind == kind {
				return nil, fmt.Errorf("bench profile: faults has %q, which is a fault of a jig: a hand has none, take it out", kind)
			}
		}
	}
	b, err := newBench(p, seed, State{}, h.Advance, func() shaft {
		g := h.Grip()
		return shaft{grip: &g}
	})
	if err != nil {
		return nil, err
	}
	b.mount.rotorDeg = 0
	b.truth.SlackDeg, b.truth.BacklashDeg, b.truth.ShaftDeg = 0, 0, 0
	return b, nil
}

// follow takes screw and blade to where a hand has them. A lacquered screw stays.
func (m *mount) follow(g Grip, t float64) {
	if find(m.faults, Lacquered, t) != nil {
		m.held = g.ScrewDeg - m.screw
	}
	m.screw, m.seated, m.press = g.ScrewDeg-m.held, g.Touching, g.TiltArcmin
}
