package stream

// Act is what the person who turns the screw by hand should do now.
type Act string

// Acts.
const (
	HandsOff Act = "hands-off" // keep clear of the screw while the run listens
	TurnOn   Act = "turn"      // turn slowly: about Turns, or until the next act if Turns is 0
	Edge     Act = "edge"      // a dull edge was heard: turn back, Way, until the next act
	Slower   Act = "slower"    // go on as before, but more slowly
	WrongWay Act = "wrong-way" // this is the wrong direction: turn Way, until the next act
	HoldOn   Act = "hold"      // stop turning, and keep the blade in the slot
	Trouble  Act = "trouble"   // the sound cannot be used: stop turning, and wait
	Mark     Act = "mark"      // a dull edge was heard: stop, lift the blade, mark where the slot points
	Halfway  Act = "halfway"   // turn, Way, to halfway between the last two marks
	Optimum  Act = "optimum"   // the head is set: hands off, the work is done
)

// Way is a direction of turning, as seen on the screw's head.
type Way string

// Ways.
const (
	Clockwise        Way = "clockwise"
	CounterClockwise Way = "counter-clockwise"
)

// Other returns the opposite direction.
func (w Way) Other() Way {
	switch w {
	case Clockwise:
		return CounterClockwise
	case CounterClockwise:
		return Clockwise
	}
	return w
}

// Guidance is a request to the person who turns the screw by hand. It is repeated some 20 times
// a second with the present distance; New marks the first of each request, and the event's Say
// then has its words.
type Guidance struct {
	Act Act
	// New means that the request has just been made.
	New bool
	// Way is the direction to turn; empty if nothing is to be turned.
	Way Way
	// Turns is about how far to turn, in turns of the screw; 0 if that is unknown.
	Turns float64
	// OffArcmin is the tilt of the head from the target, nil while there is none;
	// ToleranceArcmin is the tilt within which the target counts as reached.
	OffArcmin       *float64
	ToleranceArcmin float64
}
