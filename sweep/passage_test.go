package sweep

import (
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"testing"

	benchgrid "headtrue/sweep/bench/grid"
	"headtrue/sweep/estimate"
	"headtrue/sweep/record"
)

func passage() record.Reading {
	return record.Reading{Usable: true, Seconds: 3, Coherence: 0.9, TrebleSDDB: 1, DelaySDUS: 0.5, DelayNoiseSDUS: 0.4, TiltArcmin: 5}
}

func TestReadySaysWhatThePassageCanSettle(t *testing.T) {
	for _, c := range []struct {
		within, delaySD float64
		verdict, do     string
	}{
		{1, 0.5, Pass, ""},
		{0.15, 50, Doubt, "align this head with a tone once, and name the unit with --unit: from then on the fixed delay of its channels is known; or ask for less with --within"},
		{0.05, 50, Doubt, "play a passage with steadier and brighter treble, or a tone; or ask for less with --within"},
	} {
		course := planned(Plan{WithinArcmin: c.within, ChannelDelaySDUS: c.delaySD})
		var list checkList
		course.checkOutlook(&list, passage())
		got := list[0]
		if got.Verdict != c.verdict || c.do != "" && got.Do != c.do {
			t.Errorf("within %g', delay to %g us: %+v", c.within, c.delaySD, got)
		}
	}
}

// BenchmarkAccuracyOutlook compares the outlook of a passage with the result: runs on each
// piece that start within 15' of the top and refine for some 20 s.
func BenchmarkAccuracyOutlook(b *testing.B) {
	seeds := min(tableSeeds(), 100)
	for range b.N {
		fmt.Printf("\nOutlook in %d s, %d seeds a piece:\n%-14s %5s %15s %8s %7s %6s\n", estimate.OutlookSeconds, seeds, "piece", "rms'", "95 %", "promised", "unset", "none")
		for _, piece := range benchgrid.Pieces() {
			c := gridCell(b, "rendered-20dB-unknown", seeds)
			c.profile.Programme.WAV = filepath.Join(os.Getenv("HEADTRUE_MATERIAL"), piece+".wav")
			c.profile.Tape.TiltRangeArcmin, c.profile.Deck.StartTiltRangeArcmin = 0, 15
			c.plan.WithinArcmin, c.plan.TapeBudgetSeconds = 0.06, 29
			var promised float64
			none := 0
			for seed := range uint64(seeds) {
				x := promiseOf(b, c, seed+1)
				if math.IsInf(x, 1) {
					none++
					continue
				}
				promised += math.Log(x)
			}
			set, unset := apart(c.table(b))
			s := summarise(set)
			lo, hi := rmsInterval(s.rms, s.n)
			fmt.Printf("%-14s %5.2f %15s %8.2f %7d %6d\n", piece, s.rms, fmt.Sprintf("[%.2f, %.2f]", lo, hi), math.Exp(promised/float64(seeds-none)), len(unset), none)
		}
	}
}

// promiseOf returns the outlook on the bench of a seed before anything moves.
func promiseOf(b *testing.B, c cell, seed uint64) float64 {
	s := &scope{TB: b}
	defer s.end()
	course := begin(newRig(s, c.profile, c.after+seed, c.plan).setup)
	r, _, err := course.Hear(context.Background(), readySeconds)
	if err != nil {
		b.Fatal(err)
	}
	return course.Plan.Outlook(r, estimate.OutlookSeconds)
}
