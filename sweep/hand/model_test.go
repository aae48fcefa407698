package hand

import (
	"fmt"
	"math"
	"testing"

	"headtrue/sweep/bench"
	"headtrue/sweep/stream"
)

// persons is how many draws a figure is taken from. A mean then has a standard error of 1/20 of
// the deviation, and the deviation of a normal one 1/28 of itself; the bounds are four of them.
const persons = 400

// drawn returns mean and standard deviation of a figure over as many persons.
func drawn(of func(seed uint64) float64) (mean, sd float64) {
	var sum, squares float64
	for seed := range uint64(persons) {
		x := of(seed)
		sum += x
		squares += x * x
	}
	mean = sum / persons
	return mean, math.Sqrt(squares/persons - mean*mean)
}

// The figures that Usual states, and twice as much of each error, measured on the screw.
func TestFiguresOfTheHand(t *testing.T) {
	for name, c := range map[string]struct {
		m     Model
		times float64
	}{"usual": {Usual(), 1}, "twice as bad": {Usual().Twice(), 2}} {
		is := func(what string, of func(seed uint64) float64, mean, sd, sdBound float64) {
			gotMean, gotSD := drawn(of)
			near(t, name+": mean of "+what, gotMean, mean, 0.2*sd)
			near(t, name+": deviation of "+what, gotSD, sd, sdBound*sd)
		}
		rms := func(what string, of func(seed uint64) float64, want float64) {
			mean, sd := drawn(of)
			near(t, name+": rms of "+what, math.Hypot(mean, sd), want, want/7)
		}
		m := c.m
		is("reaction", func(s uint64) float64 { return reaction(t, m, s) }, 0.3*c.times, 0.1*c.times, 1.0/7)
		is("a quarter of a turn", func(s uint64) float64 { return made(t, m, s, 90) }, 90, math.Hypot(9, 2)*c.times, 1.0/7)
		is("20 degrees", func(s uint64) float64 { return made(t, m, s, 20) }, 20, math.Hypot(2, 2)*c.times, 1.0/7)
		rms("overshoot", func(s uint64) float64 { return overshoot(t, m, s, stream.HoldOn) }, 4*c.times)
		rms("overshoot before a turn back", func(s uint64) float64 { return overshoot(t, m, s, stream.Edge) }, 4*c.times)
		is("logarithm of speed", func(s uint64) float64 { return math.Log10(New(m, s).speed) }, 1.801, 1/math.Sqrt(12), 0.1)
		is("pressure", func(s uint64) float64 { return math.Abs(New(m, s).blade.usual) }, 2.75*c.times, 4.5*c.times/math.Sqrt(12), 0.1)
		rms("spring back", func(s uint64) float64 { return springBack(t, m, s) }, 2*c.times)
	}
}

// reaction is the time from a request to the first movement of a hand that stands ready.
func reaction(t *testing.T, m Model, seed uint64) float64 {
	h := seated(t, m, seed)
	at := h.Grip().ScrewDeg
	h.Tell(ask(stream.TurnOn, stream.Clockwise, 0))
	s := until(t, h, func(g bench.Grip) bool { return g.ScrewDeg != at })
	if s < m.ReactionLeastSeconds {
		t.Errorf("a hand reacts after %g s", s)
	}
	return s
}

// made is the turn that becomes of one of a stated size, which ends by itself.
func made(t *testing.T, m Model, seed uint64, deg float64) float64 {
	h := seated(t, m, seed)
	at := h.Grip().ScrewDeg
	h.Tell(ask(stream.TurnOn, stream.CounterClockwise, deg/360))
	for len(h.heard) > 0 || h.aim.way != 0 {
		pass(h, 0.01)
	}
	return at - h.Grip().ScrewDeg
}

// overshoot is how far the screw turns on after the reaction to a request to stop, or to turn
// back.
func overshoot(t *testing.T, m Model, seed uint64, act stream.Act) float64 {
	m.StrokeDeg = 1e6
	h := seated(t, m, seed)
	h.Tell(ask(stream.TurnOn, stream.Clockwise, 0))
	pass(h, 2)
	if h.wrist.speed != h.wrist.full {
		t.Fatal("after 2 s it is not at its full speed")
	}
	h.Tell(ask(act, stream.CounterClockwise, 0))
	last := h.Grip().ScrewDeg
	until(t, h, func(g bench.Grip) bool {
		if len(h.heard) > 0 {
			last = g.ScrewDeg
		}
		return len(h.heard) == 0
	})
	at := last
	until(t, h, func(g bench.Grip) bool { // the screw stands, or turns back
		goes := g.ScrewDeg > last
		last = max(last, g.ScrewDeg)
		return !goes
	})
	return last - at
}

// springBack is what the screw turns once the blade is lifted; its sign is against the turn.
func springBack(t *testing.T, m Model, seed uint64) float64 {
	h := seated(t, m, seed)
	way, sign := stream.Clockwise, 1.0
	if seed%2 == 0 {
		way, sign = stream.CounterClockwise, -1
	}
	h.Tell(ask(stream.TurnOn, way, 0.1))
	at := pass(h, 10)
	h.Tell(ask(stream.HandsOff, "", 0))
	after := pass(h, 5)
	back := sign * (at.ScrewDeg - after.ScrewDeg)
	if back < 0 {
		t.Errorf("seed %d: the screw springs on by %g", seed, -back)
	}
	h.Tell(ask(stream.Optimum, "", 0))
	if pass(h, 5) != after {
		t.Errorf("seed %d: a blade that is away is lifted once more", seed)
	}
	h.blade.seated = true
	h.Tell(ask(stream.HandsOff, "", 0))
	if pass(h, 5) != after {
		t.Errorf("seed %d: the screw springs back without a turn", seed)
	}
	return back
}

// No turn is smaller than the least one. Of a turn of half that size every second one is made.
func TestLeastTurn(t *testing.T) {
	for _, deg := range []float64{0.5, 1.5, 3, 5} {
		for seed := range uint64(persons) {
			if got := made(t, Usual(), seed, deg); got != 0 && got < 3-1e-9 {
				t.Fatalf("seed %d: of %g degrees the hand makes %g", seed, deg, got)
			}
		}
	}
	m := exact()
	m.LeastTurnDeg = 3
	for deg, want := range map[float64]float64{0.6: 0.2, 1.5: 0.5, 2.7: 0.9} {
		share, _ := drawn(func(s uint64) float64 { return math.Round(made(t, m, s, deg)) / 3 })
		near(t, fmt.Sprintf("share of turns of %g degrees that are made", deg), share, want, 0.1)
	}
}

// The speed varies from turn to turn; Slower halves it for good, to 15 degrees a second at
// least.
func TestSpeed(t *testing.T) {
	h := seated(t, Usual(), 1)
	mean, sd := drawn(func(uint64) float64 { return h.aimOf(request{}).speed / h.speed })
	near(t, "mean of the speeds of one hand", mean, 1, 0.04)
	near(t, "their deviation", sd, 0.2, 0.03)

	h = seated(t, exact(), 1)
	speed := func(seconds float64) float64 {
		pass(h, 0.31+0.1)
		from := h.Grip().ScrewDeg
		return (pass(h, seconds).ScrewDeg - from) / seconds
	}
	h.Tell(ask(stream.TurnOn, stream.Clockwise, 0))
	near(t, "at first", speed(0.2), 90, 1)
	for _, want := range []float64{45, 22.5, 15, 15} {
		h.Tell(ask(stream.Slower, "", 0))
		pass(h, 0.5)
		h.Tell(ask(stream.HoldOn, "", 0))
		pass(h, 1)
		h.wrist.angle = -60 // room for what follows
		h.Tell(ask(stream.TurnOn, stream.Clockwise, 0))
		near(t, "more slowly", speed(0.4), want, 0.5)
	}
}

// The blade takes 0.5 to 1.5 s; its pressure has either sign, comes within 0.2 s, and varies.
func TestTouch(t *testing.T) {
	m := exact()
	mean, sd := drawn(func(s uint64) float64 {
		h := New(m, s)
		h.Tell(ask(stream.TurnOn, stream.Clockwise, 0))
		return until(t, h, func(g bench.Grip) bool { return g.Touching }) - 0.3
	})
	near(t, "seconds to seat", mean, 1, 0.06)
	near(t, "their deviation", sd, 1/math.Sqrt(12), 0.03)
	mean, _ = drawn(func(s uint64) float64 { return math.Copysign(1, New(m, s).blade.usual) })
	near(t, "sign of the pressure", mean, 0, 0.2)

	h := seated(t, m, 3)
	for _, at := range []float64{0, 0.5, 1, 1} {
		near(t, fmt.Sprintf("pressure, %g of it", at), h.Grip().TiltArcmin, at*h.blade.usual, 0.02*math.Abs(h.blade.usual))
		pass(h, 0.1)
	}
	mean, sd = drawn(func(s uint64) float64 { h := seated(t, Usual(), s); return h.blade.press / h.blade.usual })
	near(t, "pressure of a touch", mean, 1, 0.04)
	near(t, "its deviation", sd, 0.2, 0.03)
}

// A long turn goes in strokes of about 120 degrees, with 0.3 s between in which the blade stays.
func TestStrokes(t *testing.T) {
	m := exact()
	var strokes, rests []float64
	for seed := range uint64(20) {
		h := seated(t, m, seed)
		h.Tell(ask(stream.TurnOn, stream.Clockwise, 0))
		pass(h, 0.35)
		from, rested := h.Grip().ScrewDeg, 0.0
		for h.seconds() < 60 {
			before := h.Grip()
			after := pass(h, tickSeconds)
			if !after.Touching {
				t.Fatal("the blade leaves the slot between two strokes")
			}
			switch {
			case after.ScrewDeg == before.ScrewDeg:
				rested += tickSeconds
			case rested > 0:
				strokes, rests = append(strokes, before.ScrewDeg-from), append(rests, rested)
				from, rested = before.ScrewDeg, 0
			}
		}
	}
	n := len(strokes)
	if n < 300 {
		t.Fatalf("only %d strokes", n)
	}
	var sum, rest float64
	for i := range strokes {
		sum, rest = sum+strokes[i]/float64(n), rest+rests[i]/float64(n)
	}
	near(t, "mean of the strokes", sum, 120, 4)
	near(t, "rest between them", rest, 0.3, 0.002)
}

// A turn begins and ends smoothly: within 0.1 s at full speed, and as slowly to its end.
func TestTurnsAreSmooth(t *testing.T) {
	h := seated(t, exact(), 1)
	h.Tell(ask(stream.TurnOn, stream.Clockwise, 0.2))
	last, fastest := 0.0, 0.0
	for range 3000 {
		before := h.Grip().ScrewDeg
		speed := (pass(h, tickSeconds).ScrewDeg - before) / tickSeconds
		if jump := math.Abs(speed - last); jump > 90/0.1*tickSeconds*2.1 {
			t.Fatalf("the speed jumps by %g degrees a second, from %g", jump, last)
		}
		last, fastest = speed, max(fastest, speed)
	}
	near(t, "fastest", fastest, 90, 0.1)
	near(t, "at the end", last, 0, 0)
}
