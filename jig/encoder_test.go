package jig_test

import (
	"errors"
	"testing"

	"headtrue/jig"
	"headtrue/jig/virtual"
)

// The encoder finds lost steps after the move, and they are reported.
func TestEncoderFindsLostSteps(t *testing.T) {
	for _, lost := range []int{0, 64, 128} {
		o := virtual.Options{Encoder: true}
		if lost > 0 {
			o.Faults = []virtual.Fault{{Kind: virtual.FaultLostSteps, AtStep: 500, Amount: lost}}
		}
		v := virtual.New(o)
		j := open(t, v, profile())
		if !j.ShaftWatched() {
			t.Fatal("the encoder is not used")
		}
		if _, err := j.MoveTo(t.Context(), 30, lockStep(v)); err != nil {
			t.Fatalf("a move that loses nothing: %v", err)
		}
		_, err := j.MoveTo(t.Context(), -100, lockStep(v))
		var e *jig.LostStepsError
		switch {
		case lost == 0 && err != nil:
			t.Errorf("no steps were lost: %v", err)
		case lost > 0 && !errors.As(err, &e):
			t.Errorf("%d microsteps were lost: %v", lost, err)
		case lost > 0 && (e.Microsteps > -lost+1 || e.Microsteps < -lost-1):
			t.Errorf("told %d microsteps; want %d: the count went down and is ahead there", e.Microsteps, -lost)
		}
	}
}

// Without an encoder nothing asks for one.
func TestWithoutEncoder(t *testing.T) {
	v := virtual.New(virtual.Options{Faults: []virtual.Fault{{Kind: virtual.FaultLostSteps, AtStep: 50, Amount: 64}}})
	j := open(t, v, profile())
	if _, err := j.MoveTo(t.Context(), 30, lockStep(v)); err != nil || j.ShaftWatched() {
		t.Errorf("%v, watched %v", err, j.ShaftWatched())
	}
	if i, err := j.Inspect(t.Context()); err != nil || i.Encoder != 0 {
		t.Errorf("inspection %+v, %v", i, err)
	}
}
