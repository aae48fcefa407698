package hand

import (
	"math"
	"testing"

	"headtrue/sweep/stream"
)

// Too fast: 400 degrees a second, and half of it once asked to turn more slowly.
func TestTooFast(t *testing.T) {
	m := exact()
	m.TooFast, m.StrokeDeg = true, 1e6
	h := seated(t, m, 1)
	h.Tell(ask(stream.TurnOn, stream.Clockwise, 0))
	pass(h, 1)
	for _, want := range []float64{400, 200, 100} {
		from := h.Grip().ScrewDeg
		near(t, "speed", pass(h, 0.5).ScrewDeg-from, want/2, 0.5)
		h.Tell(ask(stream.Slower, "", 0))
		pass(h, 1)
	}
}

// Every third request to turn is obeyed the wrong way; requests to stop do not count.
func TestWrongWayNowAndThen(t *testing.T) {
	m := exact()
	m.WrongWayEvery = 3
	h := New(m, 1)
	for n := 1; n <= 9; n++ {
		from := h.Grip().ScrewDeg
		h.Tell(ask(stream.TurnOn, stream.CounterClockwise, 0.05))
		want := -18.0
		if n%3 == 0 {
			want = 18
		}
		near(t, "turned", pass(h, 4).ScrewDeg-from, want, 1e-6)
		h.Tell(ask(stream.HoldOn, "", 0))
		pass(h, 1)
	}
}

func TestSwapped(t *testing.T) {
	m := exact()
	m.Swapped = true
	h := New(m, 1)
	h.Tell(ask(stream.TurnOn, stream.Clockwise, 0.1))
	near(t, "clockwise is taken for counter-clockwise", pass(h, 5).ScrewDeg, -36, 1e-6)
	h.Tell(ask(stream.WrongWay, stream.CounterClockwise, 0))
	if at := pass(h, 1).ScrewDeg; at <= -36 {
		t.Errorf("counter-clockwise is taken for clockwise: at %g", at)
	}
}

// Half way through the second turn the blade is lifted for 5 s; then the turn goes on.
func TestLetsGo(t *testing.T) {
	m := exact()
	m.LetsGoAt = 2
	h := New(m, 1)
	h.Tell(ask(stream.TurnOn, stream.Clockwise, 0.1))
	near(t, "first turn", pass(h, 5).ScrewDeg, 36, 1e-6)
	h.Tell(ask(stream.TurnOn, stream.Clockwise, 0.2))
	g := pass(h, 3)
	if g.Touching || g.TiltArcmin != 0 {
		t.Errorf("the blade is in the slot: %+v", g)
	}
	near(t, "half the turn", g.ScrewDeg, 36+36, 0.2)
	if g := pass(h, 2.9); g.Touching {
		t.Errorf("5 s are not over: %+v", g)
	}
	g = pass(h, 6)
	if !g.Touching {
		t.Errorf("the blade is still away: %+v", g)
	}
	near(t, "the whole turn", g.ScrewDeg, 36+72, 1e-6)

	// What is asked for meanwhile holds when the hand is back: here nothing.
	m.LetsGoAt = 1
	h = New(m, 1)
	h.Tell(ask(stream.TurnOn, stream.CounterClockwise, 0))
	pass(h, 4)
	h.Tell(ask(stream.HandsOff, "", 0))
	near(t, "an open turn, let go of", pass(h, 20).ScrewDeg, -letsGoOpenDeg, 0.2)
}

// The second request is obeyed 20 s late; until then the hand stands, also one that turns.
func TestPauses(t *testing.T) {
	m := exact()
	m.PausesAt = 2
	h := seated(t, m, 1)
	h.count = 0
	h.Tell(ask(stream.TurnOn, stream.Clockwise, 0))
	pass(h, 2)
	h.Tell(ask(stream.TurnOn, stream.CounterClockwise, 0.1))
	stands := pass(h, 1).ScrewDeg
	near(t, "it stands", pass(h, 19.2).ScrewDeg, stands, 0)
	near(t, "then it turns", pass(h, 3).ScrewDeg, stands-36, 1e-6)
	h.Tell(ask(stream.TurnOn, stream.Clockwise, 0.1))
	near(t, "the next one at once", pass(h, 3).ScrewDeg, stands, 1e-6)
}

// At its end the screw stays, however far the hand turns on, and comes back at once.
func TestScrewAtItsEnd(t *testing.T) {
	m := exact()
	m.EndDeg = 50
	h := New(m, 1)
	h.Tell(ask(stream.TurnOn, stream.Clockwise, 0.5))
	near(t, "at its end", pass(h, 8).ScrewDeg, 50, 0)
	h.Tell(ask(stream.TurnOn, stream.CounterClockwise, 0.1))
	near(t, "back", pass(h, 5).ScrewDeg, 14, 1e-6)
	h.Tell(ask(stream.TurnOn, stream.CounterClockwise, 1))
	near(t, "at its other end", pass(h, 10).ScrewDeg, -50, 0)
}

// Two requests in quick succession are obeyed in their order, whatever their reaction times.
func TestRequestsKeepTheirOrder(t *testing.T) {
	m := exact()
	m.ReactionSDSeconds = 0.3
	for seed := range uint64(50) {
		h := seated(t, m, seed)
		h.Tell(ask(stream.TurnOn, stream.Clockwise, 0))
		pass(h, 0.05)
		h.Tell(ask(stream.HoldOn, "", 0))
		pass(h, 3)
		at := h.Grip().ScrewDeg
		if math.Abs(pass(h, 1).ScrewDeg-at) > 0 {
			t.Fatalf("seed %d: the hand turns after it was stopped", seed)
		}
	}
}
