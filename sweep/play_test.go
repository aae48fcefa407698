package sweep

import (
	"context"
	"fmt"
	"math"
	"testing"

	"headtrue/sweep/record"
)

// playError is what a run says of the play against the bench's truth, as tilt of the
// head: both in arcmin.
type playError struct{ off, sd float64 }

// playErrors are those of runs of a cell that listen from both sides or not.
func playErrors(tb testing.TB, name string, runs int, both bool) (errors []playError, tape float64) {
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
			continue // it went one way only, and says nothing of the play
		}
		if err != nil || end.Outcome != record.Aligned && end.Outcome != record.LessCertain || d == nil {
			tb.Fatalf("%s, run %d: %v, %s: %s", name, i, err, end.Outcome, end.Say)
		}
		truth := r.bench.Truth()
		perDeg := math.Abs(truth.GearingArcminPerTurn) / 360
		errors = append(errors, playError{(d.BacklashDeg - truth.BacklashDeg) * perDeg, d.BacklashSDDeg * perDeg})
		tape += r.entries[len(r.entries)-1].TapeSeconds / float64(runs)
		s.end()
	}
	return errors, tape
}

func rmsOf(errors []playError) (off, sd float64) {
	for _, e := range errors {
		off, sd = off+square(e.off), sd+square(e.sd)
	}
	n := float64(len(errors))
	return math.Sqrt(off / n), math.Sqrt(sd / n)
}

// Heard from both sides the play is known several times better than by the turns,
// which cannot tell it well from the lag of the sound.
func TestBothSidesTellThePlay(t *testing.T) {
	t.Parallel()
	errors, _ := playErrors(t, "tone-20dB-known", 10, true)
	if off, sd := rmsOf(errors); off > 0.2 || sd > 0.35 {
		t.Errorf("the play is off by %.3f' rms, stated %.3f'", off, sd)
	}
}

// BenchmarkAccuracyPlay prints how well the play is known; HEADTRUE_SEEDS as for the
// grid.
func BenchmarkAccuracyPlay(b *testing.B) {
	for range b.N {
		fmt.Printf("\nPlay, %d seeds each, as tilt of the head:\n%-22s %12s %5s %8s %8s %8s\n", tableSeeds(), "cell", "", "told", "rms'", "stated'", "tape s")
		for _, name := range []string{"tone-20dB-known", "tone-10dB-unknown", "tone-30dB-unknown", "recording-20dB-known", "produced-20dB-none"} {
			for _, both := range []bool{false, true} {
				errors, tape := playErrors(b, name, tableSeeds(), both)
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
