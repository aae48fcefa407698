package hand

// Model has the figures of a person's hand. A normal deviation is given as its standard
// deviation.
type Model struct {
	// ReactionSeconds from a request to the first movement, normal, at least
	// ReactionLeastSeconds.
	ReactionSeconds, ReactionSDSeconds, ReactionLeastSeconds float64
	// LeastTurnDeg is the smallest turn that the hand can make. Of a smaller one it makes this
	// or nothing, by chance, so that the mean is right.
	LeastTurnDeg float64
	// Each turn of a stated size is off by TurnErrorPercent of it and by TurnErrorDeg.
	TurnErrorPercent, TurnErrorDeg float64
	// OvershootDeg, rms, is turned after the reaction to a request that stops the hand at its
	// full speed; at less speed less, in proportion.
	OvershootDeg float64
	// SpeedDegPerSecond are the slowest and the fastest hand; each has one between, by its
	// logarithm, and varies it by SpeedVariesPercent from turn to turn. A request to turn more
	// slowly halves it, to no less than SlowestDegPerSecond.
	SpeedDegPerSecond   [2]float64
	SpeedVariesPercent  float64
	SlowestDegPerSecond float64
	// StartSeconds to reach the full speed, and to stop from it.
	StartSeconds float64
	// StrokeDeg is what the wrist turns at once, on average, and RegripSeconds passes between
	// two strokes, with the blade in the slot.
	StrokeDeg, RegripSeconds float64
	// SeatSeconds, least and most, pass until the blade is in the slot.
	SeatSeconds [2]float64
	// PressArcmin, least and most, is the tilt of the head by the pressure of the blade; each
	// hand has one, of either sign, and varies it by PressVariesPercent from touch to touch. It
	// comes within PressRampSeconds of the touch.
	PressArcmin        [2]float64
	PressVariesPercent float64
	PressRampSeconds   float64
	// SpringBackDeg, rms, is what the screw springs back against its last turn when the blade
	// is lifted.
	SpringBackDeg float64
	// A mark of the slot is drawn MarkSeconds after the blade is away, and is off by MarkErrorDeg,
	// rms.
	MarkSeconds, MarkErrorDeg float64
	Mistakes
}

// Mistakes are what a person does wrong. The zero value makes none. Requests count from 1;
// those to turn are counted by themselves.
type Mistakes struct {
	TooFast       bool    // turns by 400 degrees a second until asked to turn more slowly
	WrongWayEvery int     // turns the wrong way at each request to turn of this number
	LetsGoAt      int     // lifts the blade for 5 s, half way through the request to turn of this number
	PausesAt      int     // stands still for 20 s before it obeys the request of this number
	EndDeg        float64 // the screw is at its end this far from as found, either way; 0: nowhere
	Swapped       bool    // takes clockwise for counter-clockwise
}

// Sizes of the mistakes. Our own, no source.
const (
	tooFastDegPerSecond = 400
	letsGoSeconds       = 5
	pauseSeconds        = 20
	letsGoOpenDeg       = 60 // half way through a turn of no stated size
)

// Usual returns a person of some practice.
//
// Reaction: the choice between several sounds takes 283 ms on average, one sound alone 186 ms
// ("A study on measurement of auditory reaction time", Nihon Jibiinkoka Gakkai Kaiho 93(5),
// 746-755); the spread is from memory. Stroke: the forearm turns by 84 degrees one way and by
// 71 the other, and everyday work needs 50 each way (upperlimbco.com, "Forearm rotation"): 120
// lies between 100 and 155. Fastest speed: a forearm on a dynamometer keeps up to 190 degrees a
// second (isokinetics.net, "Pronation and supination"). All else is from memory, no source.
func Usual() Model {
	return Model{
		ReactionSeconds: 0.3, ReactionSDSeconds: 0.1, ReactionLeastSeconds: 0.1,
		LeastTurnDeg: 3, TurnErrorPercent: 10, TurnErrorDeg: 2, OvershootDeg: 4,
		SpeedDegPerSecond: [2]float64{20, 200}, SpeedVariesPercent: 20, SlowestDegPerSecond: 15, StartSeconds: 0.1,
		StrokeDeg: 120, RegripSeconds: 0.3, SeatSeconds: [2]float64{0.5, 1.5},
		PressArcmin: [2]float64{0.5, 5}, PressVariesPercent: 20, PressRampSeconds: 0.2, SpringBackDeg: 2,
		MarkSeconds: 1, MarkErrorDeg: 5, // our own, no source
	}
}

// Twice returns a hand twice as bad: it reacts in twice the time, and all its errors are
// doubled. Its speed, its strokes and its mistakes stay.
func (m Model) Twice() Model {
	for _, x := range []*float64{
		&m.ReactionSeconds, &m.ReactionSDSeconds, &m.ReactionLeastSeconds, &m.LeastTurnDeg, &m.TurnErrorPercent, &m.TurnErrorDeg, &m.OvershootDeg,
		&m.SpeedVariesPercent, &m.PressArcmin[0], &m.PressArcmin[1], &m.PressVariesPercent, &m.SpringBackDeg, &m.MarkErrorDeg,
	} {
		*x *= 2
	}
	return m
}
