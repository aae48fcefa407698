package hand

import (
	"math"
	"slices"
	"testing"

	"headtrue/sweep/bench"
	"headtrue/sweep/stream"
)

// near reports a figure that is off by more than a tolerance.
func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: got %.4g, want %.4g within %.2g", what, got, want, tolerance)
	}
}

// exact is a hand that makes no errors, of 90 degrees a second.
func exact() Model {
	m := Usual()
	for _, x := range []*float64{&m.ReactionSDSeconds, &m.LeastTurnDeg, &m.TurnErrorPercent, &m.TurnErrorDeg, &m.OvershootDeg, &m.SpeedVariesPercent, &m.PressVariesPercent, &m.SpringBackDeg, &m.MarkErrorDeg} {
		*x = 0
	}
	m.SpeedDegPerSecond = [2]float64{90, 90}
	return m
}

func ask(act stream.Act, way stream.Way, turns float64) stream.Event {
	return stream.Event{Kind: stream.Guided, Guidance: &stream.Guidance{Act: act, New: true, Way: way, Turns: turns}}
}

func pass(h *Hand, seconds float64) bench.Grip {
	h.Advance(int(math.Round(seconds * bench.Rate)))
	return h.Grip()
}

// until lets time pass in ticks until a condition holds, and returns the seconds.
func until(t *testing.T, h *Hand, holds func(bench.Grip) bool) float64 {
	t.Helper()
	for s := 0.0; s < 60; s += tickSeconds {
		if holds(h.Grip()) {
			return s
		}
		h.Advance(tickFrames)
	}
	t.Fatal("in 60 s it has not come to that")
	return 0
}

// seated is a hand whose blade has just been seated, by a turn so small that the screw has
// hardly moved.
func seated(t *testing.T, m Model, seed uint64) *Hand {
	t.Helper()
	h := New(m, seed)
	h.Tell(ask(stream.TurnOn, stream.Clockwise, 0))
	until(t, h, func(g bench.Grip) bool { return g.Touching })
	h.aim = standing
	return h
}

// What each act makes of the hand, without errors.
func TestActs(t *testing.T) {
	h := New(exact(), 1)
	h.Tell(ask(stream.TurnOn, stream.Clockwise, 0.25))
	if g := pass(h, 0.75); g.Touching || g.ScrewDeg != 0 {
		t.Errorf("0.3 s of reaction and 0.5 s of seating are not over: %+v", g)
	}
	near(t, "a quarter of a turn, and no more", pass(h, 6).ScrewDeg, 90, 1e-9)

	h.Tell(ask(stream.TurnOn, stream.CounterClockwise, 0))
	if g := pass(h, 10); g.ScrewDeg > -300 || g.ScrewDeg < 90-10*90 {
		t.Errorf("turns on until asked otherwise, with regrips: %+v", g)
	}
	before := h.Grip().ScrewDeg
	h.Tell(ask(stream.Edge, stream.Clockwise, 0))
	if g := pass(h, 4); g.ScrewDeg < before+90 {
		t.Errorf("an edge turns the hand: %+v, before %g", g, before)
	}
	h.Tell(ask(stream.HoldOn, "", 0))
	g := pass(h, 1)
	if again := pass(h, 3); again != g || !g.Touching {
		t.Errorf("hold: stands with its blade in the slot: %+v, later %+v", g, again)
	}
	h.Tell(ask(stream.WrongWay, stream.CounterClockwise, 0))
	if later := pass(h, 1); later.ScrewDeg >= g.ScrewDeg {
		t.Errorf("the wrong way: %+v, before %+v", later, g)
	}
	h.Tell(ask(stream.Trouble, "", 0))
	g = pass(h, 1)
	if again := pass(h, 3); again != g || !g.Touching {
		t.Errorf("trouble: %+v, later %+v", g, again)
	}
	for _, act := range []stream.Act{stream.HandsOff, stream.Optimum} {
		h.Tell(ask(stream.TurnOn, stream.Clockwise, 0.1))
		if g := pass(h, 3); !g.Touching {
			t.Errorf("a turn seats the blade: %+v", g)
		}
		h.Tell(ask(act, "", 0))
		if g := pass(h, 0.29); !g.Touching {
			t.Errorf("%s: 0.3 s are not over: %+v", act, g)
		}
		if g := pass(h, 0.02); g.Touching || g.TiltArcmin != 0 {
			t.Errorf("%s: the blade is away after 0.3 s: %+v", act, g)
		}
	}
}

// The events that are no new requests leave the hand alone.
func TestOnlyNewRequestsCount(t *testing.T) {
	h := New(exact(), 1)
	again := ask(stream.TurnOn, stream.Clockwise, 0.5)
	again.Guidance.New = false
	h.Tell(again)
	h.Tell(stream.Event{Kind: stream.Said, Say: "Turn clockwise."})
	if g := pass(h, 5); g != (bench.Grip{}) {
		t.Errorf("%+v", g)
	}
}

// course is where a hand is every 10 ms while it is asked for this and that.
func course(seed uint64, piece int) (at []bench.Grip) {
	h := New(Usual(), seed)
	for _, e := range []stream.Event{
		ask(stream.TurnOn, stream.Clockwise, 0), ask(stream.Slower, "", 0), ask(stream.Edge, stream.CounterClockwise, 0),
		ask(stream.HoldOn, "", 0), ask(stream.TurnOn, stream.Clockwise, 0.05), ask(stream.Optimum, "", 0),
	} {
		h.Tell(e)
		for range 250 {
			for left := bench.Rate / 100; left > 0; left -= piece {
				h.Advance(min(left, piece))
			}
			at = append(at, h.Grip())
		}
	}
	return at
}

// A seed and the same requests at the same times repeat the movement, however the time is cut;
// another seed is another person.
func TestRepeats(t *testing.T) {
	one := course(7, 480)
	if !slices.Equal(one, course(7, 480)) || !slices.Equal(one, course(7, 17)) {
		t.Error("the same seed moves otherwise")
	}
	if slices.Equal(one, course(8, 480)) {
		t.Error("another seed moves alike")
	}
}
