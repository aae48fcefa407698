package hand

import (
	"math"
	"testing"

	"headtrue/sweep/stream"
)

// A hand without errors marks both places with the blade away, hears no request meanwhile, and
// turns to the middle of its last two marks.
func TestHalfwayBetweenTheLastTwoMarks(t *testing.T) {
	h := New(exact(), 1)
	for _, deg := range []float64{30, 100, -60} { // the first is not among the last two
		turn := deg - h.Grip().ScrewDeg
		way := stream.Clockwise
		if turn < 0 {
			way = stream.CounterClockwise
		}
		h.Tell(ask(stream.TurnOn, way, math.Abs(turn)/360))
		pass(h, 8)
		h.Tell(ask(stream.Mark, "", 0))
		h.Tell(ask(stream.TurnOn, way, 0)) // heard while it marks
		if g := pass(h, 1.2); g.Touching || math.Abs(g.ScrewDeg-deg) > 1e-6 {
			t.Errorf("at %g: 0.3 s of reaction and 1 s of marking are not over: %+v", deg, g)
		}
		h.Tell(ask(stream.HoldOn, "", 0))
		pass(h, 1)
	}
	h.Tell(ask(stream.Halfway, stream.Clockwise, 0))
	near(t, "halfway", pass(h, 8).ScrewDeg, (100-60)/2, 2)
}

// Without two marks there is no middle: the hand stands.
func TestHalfwayNeedsTwoMarks(t *testing.T) {
	h := seated(t, exact(), 1)
	at := h.Grip().ScrewDeg
	h.Tell(ask(stream.Halfway, stream.Clockwise, 0))
	near(t, "without a mark", pass(h, 5).ScrewDeg, at, 1e-9)
}

// A mark is off by 5 degrees rms, so that the middle of two is by 3.5, and by the 2 degrees of
// the turn. The bound is four standard errors of 400 persons.
func TestMarksAreOff(t *testing.T) {
	var squares float64
	for seed := range uint64(persons) {
		m := exact()
		m.MarkErrorDeg, m.TurnErrorDeg = 5, 2
		h := New(m, seed)
		h.Tell(ask(stream.TurnOn, stream.Clockwise, 0.25))
		pass(h, 5)
		h.Tell(ask(stream.Mark, "", 0))
		pass(h, 2)
		from := h.Grip().ScrewDeg
		h.Tell(ask(stream.Mark, "", 0))
		pass(h, 2)
		h.Tell(ask(stream.Halfway, stream.Clockwise, 0))
		off := pass(h, 4).ScrewDeg - from
		squares += off * off / persons
	}
	want := math.Hypot(5/math.Sqrt2, 2)
	near(t, "middle of two marks at one place", math.Sqrt(squares), want, want/7)
}
