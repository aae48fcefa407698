package bench_test

import (
	"context"
	"encoding/json"
	"math"
	"testing"
	"time"

	"headtrue/jig"
	"headtrue/jig/virtual"
	"headtrue/sweep/bench"
)

// states are those of a deck and its jig, as a program leaves them.
type states struct {
	Deck bench.State
	Jig  *virtual.State
}

// turned runs a deck in a program that has its jig turned by orders, and returns how the
// program leaves it. The states go through JSON, as they do in a file.
func turned(t *testing.T, p bench.Profile, kept states, orders func(ctx context.Context, j *jig.Jig, block jig.Pass)) (states, bench.Truth) {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	v := virtual.New(p.JigFor(9))
	if kept.Jig != nil {
		v = virtual.Resume(p.JigFor(9), *kept.Jig)
	}
	b, err := bench.Resume(p, 9, v, kept.Deck)
	if err != nil {
		t.Fatal(err)
	}
	time := b.Lockstep(v)
	j, err := jig.Open(ctx, time.Line(virtual.Pipe(ctx, v)), jig.Profile{
		Name: "bench", StepsPerTurn: p.Motor.StepsPerTurn, Microsteps: p.Motor.Microsteps,
		Gear: p.Motor.Gear, Direction: p.Motor.Direction,
	}, jig.Polled(time))
	if err != nil {
		t.Fatal(err)
	}
	orders(ctx, j, func(ctx context.Context) error {
		_, err := b.Next(ctx)
		return err
	})
	truth := b.Truth()
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	left := states{Deck: b.Rest(v)}
	jigs := v.State()
	left.Jig = &jigs
	text, err := json.Marshal(left)
	if err != nil {
		t.Fatal(err)
	}
	var again states
	if err := json.Unmarshal(text, &again); err != nil {
		t.Fatal(err)
	}
	return again, truth
}

// A deck that is resumed has its screw, backlash and count where the last program left them,
// also if that program left the motor on; a turn back by the count finds the screw again.
func TestADeckIsResumedAsItWasLeft(t *testing.T) {
	p := bench.Default()
	p.Programme = bench.Tones(-20, 10000)
	p.Deck.CreepPercent, p.Deck.CreepSeconds = 40, 30
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	var at jig.Status
	first, was := turned(t, p, states{}, func(ctx context.Context, j *jig.Jig, block jig.Pass) {
		s, err := j.Status(ctx)
		must(err)
		must(j.Declare(ctx, s.Microsteps))
		must(j.SetWindow(ctx, -90, 90))
		must(j.Energise(ctx))
		for range 40 {
			must(block(ctx))
		}
		_, err = j.ArriveAt(ctx, -40, block)
		must(err)
		_, err = j.ArriveAt(ctx, 30, block)
		must(err)
		at, err = j.Status(ctx)
		must(err)
	})
	if math.Abs(was.ScrewDeg) < 15 {
		t.Fatalf("the screw has not been turned: %+v", was)
	}
	second, now := turned(t, p, first, func(ctx context.Context, j *jig.Jig, block jig.Pass) {
		s, err := j.Status(ctx)
		must(err)
		if s.Microsteps != at.Microsteps || s.Memory != jig.Kept || s.Epoch != at.Epoch || j.Greeting().BootCount != 3 {
			t.Errorf("the jig has %+v, started %d times; it had %+v", s, j.Greeting().BootCount, at)
		}
		must(block(ctx))
	})
	settled := was.FoundTiltArcmin + was.GearingArcminPerTurn*was.ScrewDeg/360 // without blade
	if now.ScrewDeg != was.ScrewDeg || math.Abs(now.TiltArcmin-settled) > 0.001 || now.BladeSeated {
		t.Errorf("resumed with the screw at %g and the head at %g', want %g and %g'", now.ScrewDeg, now.TiltArcmin, was.ScrewDeg, settled)
	}
	// The turn back from the home side takes the backlash up as the turn forth did.
	_, back := turned(t, p, second, func(ctx context.Context, j *jig.Jig, block jig.Pass) {
		must(j.SetWindow(ctx, -180, 180))
		must(j.Energise(ctx))
		for range 40 {
			must(block(ctx))
		}
		for _, deg := range []jig.Degrees{-50, 0} { // from where this program has found it
			_, err := j.ArriveAt(ctx, deg, block)
			must(err)
		}
	})
	if math.Abs(back.ScrewDeg-was.ScrewDeg) > 0.25 {
		t.Errorf("turned away and back, the screw is at %g degrees, and was at %g", back.ScrewDeg, was.ScrewDeg)
	}
}

// The zero state is a new deck to the bit; each later program hears noise of its own on the
// same deck.
func TestProgramsHearNoiseOfTheirOwn(t *testing.T) {
	p := bench.Default()
	p.Programme, p.Deck.StartTiltRangeArcmin = bench.Tones(-20, 1000), 10
	sound := func(s bench.State, fresh bool) ([]float64, bench.Truth) {
		v := virtual.New(p.JigFor(4))
		b, err := bench.Resume(p, 4, v, s)
		if fresh {
			b, err = bench.New(p, 4, v)
		}
		if err != nil {
			t.Fatal(err)
		}
		block, err := b.Next(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		return block.Left, b.Truth()
	}
	fresh, deck := sound(bench.State{}, true)
	zero, _ := sound(bench.State{}, false)
	second, same := sound(bench.State{Programs: 1}, false)
	third, _ := sound(bench.State{Programs: 2}, false)
	n := len(fresh) - 1
	if fresh[n] != zero[n] {
		t.Error("the zero state does not sound like a new deck")
	}
	if second[n] == fresh[n] || third[n] == second[n] {
		t.Error("two programs hear the same noise")
	}
	if same.FoundTiltArcmin != deck.FoundTiltArcmin || same.OptimumTiltArcmin != deck.OptimumTiltArcmin {
		t.Errorf("another program has another deck: %+v, was %+v", same, deck)
	}
}
