package jig_test

import (
	"context"
	"errors"
	"math"
	"slices"
	"testing"
	"time"

	"headtrue/jig"
	"headtrue/jig/virtual"
)

// Counts by hand: degrees / 360 * steps * microsteps * gear * direction.
func TestDegreesAndCounts(t *testing.T) {
	for _, c := range []struct {
		name      string
		gear      float64
		direction int
		zero      int32
		target    jig.Degrees
		count     int32
	}{
		{"plain", 1, 1, 0, 90, 800},
		{"backwards", 1, -1, 0, 90, -800},
		{"geared", 4, 1, 0, 90, 3200},
		{"geared down", 0.5, 1, 0, -90, -400},
		{"zero elsewhere", 1, 1, 100, 45, 500},
		{"rounded to a microstep", 1, 1, 0, 0.06, 1}, // 0.53 of one
	} {
		p := profile()
		p.Gear, p.Direction = c.gear, c.direction
		v := virtual.New(virtual.Options{})
		j := open(t, v, p)
		j.SetZero(c.zero)
		s, err := j.MoveTo(t.Context(), c.target, lockStep(v))
		if err != nil {
			t.Fatalf("%s: %v", c.name, err)
		}
		back := jig.Degrees(float64(c.count-c.zero) * 360 / p.MicrostepsPerTurn() * float64(c.direction))
		if s.Microsteps != c.count || v.Shaft().Microsteps != float64(c.count) || math.Abs(float64(s.Position-back)) > 1e-9 {
			t.Errorf("%s: %+v, shaft %v; want %d microsteps, %v degrees", c.name, s, v.Shaft().Microsteps, c.count, back)
		}
	}
}

// The profile's speed is in degrees of screw per second.
func TestSpeedOfTheProfile(t *testing.T) {
	p := profile()
	p.SpeedDegPerS = 45 // 400 microsteps per second
	v := virtual.New(virtual.Options{})
	j := open(t, v, p)
	if err := j.Start(t.Context(), 180); err != nil {
		t.Fatal(err)
	}
	v.Advance(24000 - 2400) // half a second less half the ramp of 0.05 s: v (t - v/2a)
	if got := v.Shaft().Microsteps; math.Abs(got-170) > 1 {
		t.Errorf("after 0.45 s the shaft made %v microsteps; 400 x (0.45 - 0.025) are 170", got)
	}
}

// A speed that rounds to no microstep must not be sent as 0, which the link defines as
// the greatest speed.
func TestASlowSpeedIsNotTheGreatest(t *testing.T) {
	for _, speed := range []float64{0.05, 1e-9, -0.05, math.NaN()} {
		p := profile()
		p.SpeedDegPerS = speed
		v := virtual.New(virtual.Options{})
		j := open(t, v, p)
		if err := j.Start(t.Context(), 30); err != nil {
			t.Fatal(err)
		}
		v.Advance(48000 * 2 / 5) // 0.4 s
		if made := v.Shaft().Microsteps; made > 1 {
			t.Errorf("at %v degrees per second the shaft made %v microsteps in 0.4 s", speed, made)
		}
		if err := j.Halt(); err != nil {
			t.Error(err)
		}
	}
}

// track records the positions at which the screw stops, in degrees.
func track(v *virtual.Jig, direction int, at *[]jig.Degrees) jig.Pass {
	return func(context.Context) error {
		v.Advance(480)
		if s := v.Shaft(); !s.Moving {
			*at = append(*at, jig.Degrees(math.Round(s.Microsteps*3600/3200*float64(direction))/10))
		}
		return nil
	}
}

func TestArriveAtFromTheHomeSide(t *testing.T) {
	for _, c := range []struct {
		name            string
		direction, home int
		targets         []jig.Degrees
		rests           []jig.Degrees // where the screw stopped
	}{
		{"slack unknown, goes beyond first", 1, 1, []jig.Degrees{0}, []jig.Degrees{-30, 0}},
		{"far enough to be direct", 1, 1, []jig.Degrees{45}, []jig.Degrees{45}},
		{"not far enough", 1, 1, []jig.Degrees{18}, []jig.Degrees{-12, 18}},
		{"on and on is direct", 1, 1, []jig.Degrees{45, 54, 54.9}, []jig.Degrees{45, 54, 54.9}},
		{"there already", 1, 1, []jig.Degrees{45, 45}, []jig.Degrees{45}},
		{"back goes beyond", 1, 1, []jig.Degrees{45, 36}, []jig.Degrees{45, 6, 36}},
		{"home side below zero", 1, -1, []jig.Degrees{-45, -36, -54}, []jig.Degrees{-45, -6, -36, -54}},
		{"motor backwards", -1, 1, []jig.Degrees{45, 36}, []jig.Degrees{45, 6, 36}},
	} {
		p := profile()
		p.Direction, p.HomeSide = c.direction, c.home
		v := virtual.New(virtual.Options{})
		j := open(t, v, p)
		var at []jig.Degrees
		for _, target := range c.targets {
			s, err := j.ArriveAt(t.Context(), target, track(v, c.direction, &at))
			if err != nil || math.Abs(float64(s.Position-target)) > 0.06 {
				t.Fatalf("%s: to %v: %+v, %v", c.name, target, s, err)
			}
		}
		if !slices.Equal(at, c.rests) {
			t.Errorf("%s: the screw rested at %v; want %v", c.name, at, c.rests)
		}
	}
}

// A short move back opens the slack again, however long the move home was before it.
func TestArriveAtAfterAShortWayBack(t *testing.T) {
	v := virtual.New(virtual.Options{})
	j := open(t, v, profile())
	var at []jig.Degrees
	pass := track(v, 1, &at)
	_, err1 := j.ArriveAt(t.Context(), 90, pass)
	_, err2 := j.MoveTo(t.Context(), 81, pass)
	_, err3 := j.ArriveAt(t.Context(), 90, pass)
	if err := errors.Join(err1, err2, err3); err != nil {
		t.Fatal(err)
	}
	if want := []jig.Degrees{90, 81, 60, 90}; !slices.Equal(at, want) {
		t.Errorf("the screw rested at %v; want %v", at, want)
	}
}

// After a release the rotor may have jumped, so the slack is unknown.
func TestArriveAtAfterRelease(t *testing.T) {
	v := virtual.New(virtual.Options{})
	j := open(t, v, profile())
	if _, err := j.ArriveAt(t.Context(), 45, lockStep(v)); err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(j.Release(t.Context()), j.Energise(t.Context())); err != nil {
		t.Fatal(err)
	}
	before := j.Travel()
	if _, err := j.ArriveAt(t.Context(), 45, lockStep(v)); err != nil {
		t.Fatal(err)
	}
	if way := j.Travel() - before; math.Abs(float64(way)-60) > 0.2 {
		t.Errorf("after a release the screw went %v degrees to arrive again; want 60, out and back", way)
	}
}

func TestTravelCountsBothDirections(t *testing.T) {
	v := virtual.New(virtual.Options{})
	j := open(t, v, profile())
	for _, target := range []jig.Degrees{90, -90, 0} {
		if _, err := j.MoveTo(t.Context(), target, lockStep(v)); err != nil {
			t.Fatal(err)
		}
	}
	if err := j.Declare(t.Context(), 5000); err != nil { // a new count is no travel
		t.Fatal(err)
	}
	if got := j.Travel(); got != 360 {
		t.Errorf("travel %v degrees; want 360", got)
	}
}

// The firmware holds the window, for this host and the next.
func TestWindowIsHeldByTheFirmware(t *testing.T) {
	v := virtual.New(virtual.Options{})
	p := profile()
	p.Direction = -1
	j := open(t, v, p)
	if err := j.SetWindow(t.Context(), -20, 30); err != nil {
		t.Fatal(err)
	}
	refused := func(j *jig.Jig, target jig.Degrees) {
		t.Helper()
		_, err := j.MoveTo(t.Context(), target, lockStep(v))
		var r *jig.RefusedError
		if !errors.As(err, &r) || r.Code != jig.OutsideWindow || v.Shaft().Moving {
			t.Errorf("move to %v: %v; want refused, outside the window", target, err)
		}
	}
	refused(j, -20.2)
	refused(j, 30.2)
	refused(j, 1e12) // beyond the range of a count
	refused(j, jig.Degrees(math.NaN()))
	for _, target := range []jig.Degrees{-19.9, 29.9} {
		if _, err := j.MoveTo(t.Context(), target, lockStep(v)); err != nil {
			t.Errorf("move to %v inside the window: %v", target, err)
		}
	}
	_ = j.Close()
	// After reopening, the window has not moved with the new zero.
	again, err := jig.Open(t.Context(), virtual.Pipe(t.Context(), v), p)
	if err != nil {
		t.Fatal(err)
	}
	defer again.Close()
	if err := again.Energise(t.Context()); err != nil {
		t.Fatal(err)
	}
	refused(again, 1) // 29.9 + 1 as the first host counted
	if err := again.SetWindow(t.Context(), 10, -10); err == nil {
		t.Error("a window upside down was taken")
	}
}

// Each cause that ends a motion before its target gives a distinct error.
func TestStoppedErrors(t *testing.T) {
	for kind, reason := range map[string]jig.StopReason{
		virtual.FaultStopInput: jig.ReasonStopInput, virtual.FaultLimit: jig.ReasonLimit,
		virtual.FaultStall: jig.ReasonStall, virtual.FaultDriver: jig.ReasonFault,
	} {
		v := virtual.New(virtual.Options{Faults: []virtual.Fault{{Kind: kind, AtStep: 500}}})
		events := make(chan jig.StopReason, 8)
		j := openLine(t, virtual.Pipe(t.Context(), v), profile(), jig.ReplyTimeout(3*time.Second),
			jig.OnEvent(func(r jig.StopReason) { events <- r }))
		s, err := j.MoveTo(t.Context(), 90, lockStep(v))
		var stopped *jig.StoppedError
		if !errors.As(err, &stopped) || stopped.Reason != reason || s.Memory != jig.Doubtful || s.Microsteps != 500 {
			t.Errorf("%s: %v, %+v", kind, err, s)
		}
		if got := <-events; got != reason {
			t.Errorf("%s: event %s; want %s", kind, got, reason)
		}
	}
}

// The stop input acts on the very last microstep: the count is right, but the move was
// stopped.
func TestStoppedAtTheTarget(t *testing.T) {
	v := virtual.New(virtual.Options{Faults: []virtual.Fault{{Kind: virtual.FaultStopInput, AtStep: 800}}})
	j := open(t, v, profile())
	s, err := j.MoveTo(t.Context(), 90, lockStep(v))
	var stopped *jig.StoppedError
	if !errors.As(err, &stopped) || stopped.Reason != jig.ReasonStopInput || s.Microsteps != 800 {
		t.Errorf("%v at %d; want the stop input at 800", err, s.Microsteps)
	}
}

func TestRefusals(t *testing.T) {
	v := virtual.New(virtual.Options{})
	j := open(t, v, profile())
	want := func(err error, code jig.Code) {
		t.Helper()
		var r *jig.RefusedError
		if !errors.As(err, &r) || r.Code != code {
			t.Errorf("%v; want refused: %s", err, code)
		}
	}
	if err := j.Start(t.Context(), 90); err != nil {
		t.Fatal(err)
	}
	want(j.Start(t.Context(), 10), jig.IsMoving)
	want(j.Release(t.Context()), jig.IsMoving)
	want(j.Declare(t.Context(), 0), jig.IsMoving)
	if _, err := j.Wait(t.Context(), lockStep(v)); err != nil {
		t.Errorf("refusals disturbed the move: %v", err)
	}
	if err := j.Release(t.Context()); err != nil {
		t.Fatal(err)
	}
	want(j.Start(t.Context(), 10), jig.NotEnergised)
	v.PressStop(true)
	want(j.Start(t.Context(), 10), jig.StopHeld)
}
