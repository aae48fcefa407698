package sweep

import (
	"context"
	"fmt"
	"math"
	"testing"

	"headtrue/sweep/record"
)

// backlashError is the backlash of a run minus that of the bench, with the stated
// uncertainty, as tilt of the head: both in arcmin.
type backlashError struct{ off, sd float64 }

// backlashErrors returns those of a cell's runs, which listen from both sides or not.
func backlashErrors(tb testing.TB, name string, runs int, both bool) (errors []backlashError, tape float64) {
	tb.Helper()
	c := gridCell(tb, name, runs)
	c.plan.BothSides = both
	for i := range runs {
		s := &scope{TB: tb}
		r := newRig(s, c.profile, c.after+uint64(i)+1, c.plan)
		end, err := Align(context.Background(), r.setup)
		d := r.decision()
		if d != nil && d.BacklashSDDeg == 0 && !both {
			s.end()
			continue // it went one way only, and gives no backlash
		}
		if err != nil || end.Outcome != record.Aligned && end.Outcome != record.LessCertain || d == nil {
			tb.Fatalf("%s, run %d: %v, %s: %s", name, i, err, end.Outcome, end.Say)
		}
		truth := r.bench.Truth()
		perDeg := math.Abs(truth.GearingArcminPerTurn) / 360
		errors = append(errors, backlashError{(d.BacklashDeg - truth.BacklashDeg) * perDeg, d.BacklashSDDeg * perDeg})
		tape += r.entries[len(r.entries)-1].TapeSeconds / float64(runs)
		s.end()
	}
	return errors, tape
}

func rmsOf(errors []backlashError) (off, sd float64) {
	for _, e := range errors {
		off, sd = off+square(e.off), sd+square(e.sd)
	}
	n := float64(len(errors))
	return math.Sqrt(off / n), math.Sqrt(sd / n)
}

// Heard from both sides, the backlash is several times more certain than by the turns, which
// cannot separate it well from the lag of the sound.
func TestBothSidesTellTheBacklash(t *testing.T) {
	t.Parallel()
	errors, _ := backlashErrors(t, "tone-20dB-known", 10, true)
	if off, sd := rmsOf(errors); off > 0.2 || sd > 0.35 {
		t.Errorf("the play is off by %.3f' rms, stated %.3f'", off, sd)
	}
}

// BenchmarkAccuracyBacklash prints the accuracy of the backlash; HEADTRUE_SEEDS as for the
// grid.
func BenchmarkAccuracyBacklash(b *testing.B) {
	for range b.N {
		fmt.Printf("\nPlay, %d seeds each, as tilt of the head:\n%-22s %12s %5s %8s %8s %8s\n", tableSeeds(), "cell", "", "told", "rms'", "stated'", "tape s")
		for _, name := range []string{"tone-20dB-known", "tone-10dB-unknown", "tone-30dB-unknown", "recording-20dB-known", "produced-20dB-none"} {
			for _, both := range []bool{false, true} {
				errors, tape := backlashErrors(b, name, tableSeeds(), both)
				if len(errors) == 0 {
					continue // every run went one way only
				}
				off, sd := rmsOf(errors)
				how := "by the turns"
				if both {
					how = "both sides"
				}
				fmt.Printf("%-22s %12s %5d %8.3f %8.3f %8.1f\n", name, how, len(errors), off, sd, tape)
			}
		}
	}
}

// A steady tone separates backlash and lag by the screw's position at each reversal: the
// bench's truth is 15 degrees and the 10 ms in which its head follows the screw.
func TestBacklashAndLagAreToldApart(t *testing.T) {
	t.Parallel()
	c := gridCell(t, "tone-20dB-unknown", 1) // no wander
	for seed := range seeds(3) {
		r := newRig(t, c.profile, c.after+seed+1, c.plan)
		course := begin(r.setup)
		end, err := course.align(t.Context(), byJig{course})
		end, err = course.conclude(t.Context(), end, err)
		d, truth := r.decision(), r.bench.Truth()
		if err != nil || d == nil {
			t.Fatal(end, err)
		}
		if math.Abs(d.BacklashDeg-truth.BacklashDeg) > 0.7 || math.Abs(d.PipelineSeconds-0.010) > 0.003 {
			t.Errorf("seed %d: backlash %.2f of %.2f degrees, lag %.4f s of 0.010", seed, d.BacklashDeg, truth.BacklashDeg, d.PipelineSeconds)
		}
		if math.Abs(truth.ErrorArcmin) > 0.25 {
			t.Errorf("seed %d: %.3f' off", seed, truth.ErrorArcmin)
		}
	}
}
