package sweep

import (
	"context"
	"math"
	"testing"

	"headtrue/sweep/record"
	"headtrue/sweep/tape"
)

// leftOf returns the as-left reading of the run.
func leftOf(r *rig) *record.Reading {
	for i := len(r.entries) - 1; i >= 0; i-- {
		if l := r.entries[i].Left; l != nil {
			return l.Released
		}
	}
	return nil
}

// A wrong backlash gives a wrong place of as found. If the head still sounds as it was left,
// the tape is that of the run, and the sound corrects the place; another tape does not.
func TestAWrongBacklashDoesNotDecideWhereAsFoundIs(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		otherTape float64 // arcmin
		want      record.Outcome
	}{"the same tape": {0, record.Restored}, "another tape": {4, record.RestoreDoubt}} {
		r := newRig(t, toneBench(), 2, Plan{ToneHz: 10000})
		if end, _ := Align(context.Background(), r.setup); end.Outcome != record.Aligned {
			t.Fatalf("%s: %s", end.Outcome, end.Say)
		}
		past := r.past(10000)
		left := *leftOf(r)
		past.Left = &left
		decision := *past.Decision
		past.Decision = &decision
		past.Decision.FoundHomeDeg += 14 // 6'
		past.Found.Seated.DelayUS += tape.StereoCassette.Microseconds(c.otherTape)
		past.Left.DelayUS += tape.StereoCassette.Microseconds(c.otherTape)
		end := r.restoreAnew(t, past, Plan{})
		truth := r.bench.Truth()
		if off := truth.TiltArcmin - truth.FoundTiltArcmin; end.Outcome != c.want || c.want == record.Restored && math.Abs(off) > 1 {
			t.Errorf("%s: %s: %s; %.1f' from as found", name, end.Outcome, end.Say, off)
		}
	}
}
