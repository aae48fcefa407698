package hand

import (
	"math"
	"testing"

	"headtrue/sweep/bench"
	"headtrue/sweep/stream"
)

// A deck turned by hand: time passes for both as blocks are pulled, and the truth has the
// hand's screw and its pressure.
func TestDeck(t *testing.T) {
	p := bench.Default()
	p.Programme = bench.Tones(-20, 10000)
	p.Screw.ArcminPerTurn = 160
	d, err := NewDeck(p, 1, exact())
	if err != nil {
		t.Fatal(err)
	}
	listen := func(seconds float64) bench.Truth {
		for until := d.Truth().Seconds + seconds; d.Truth().Seconds < until; {
			if _, err := d.Next(t.Context()); err != nil {
				t.Fatal(err)
			}
		}
		return d.Truth()
	}
	found := listen(0.1)
	d.Tell(ask(stream.TurnOn, stream.CounterClockwise, 45.0/360))
	tr := listen(5)
	near(t, "screw", tr.ScrewDeg, -45, 1e-6)
	near(t, "tilt with the blade in the slot", tr.TiltArcmin, found.TiltArcmin-20+d.hand.blade.press, 1e-3)
	if !tr.BladeSeated || math.Abs(d.hand.blade.press) < 0.5 {
		t.Errorf("%+v", tr)
	}
	d.Tell(ask(stream.Optimum, "", 0))
	near(t, "tilt with the blade away", listen(1).TiltArcmin, found.TiltArcmin-20, 1e-3)

	p.Faults = []bench.Fault{{Kind: bench.BladeOut}}
	if _, err := NewDeck(p, 1, Usual()); err == nil {
		t.Error("a fault of a jig's blade is taken")
	}
}
