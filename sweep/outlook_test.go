package sweep

import (
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"testing"

	benchgrid "headtrue/sweep/bench/grid"
	"headtrue/sweep/record"
	"headtrue/sweep/tape"
)

func heard() record.Reading {
	return record.Reading{Usable: true, Seconds: 3, Coherence: 0.9, TrebleSDDB: 1, DelaySDUS: 0.5, DelayNoiseSDUS: 0.4, TiltArcmin: 5}
}

// Where the level says nothing, the outlook is that of a mean of n delays beside
// the fixed delay: c^2 + (d^2+w^2)/n.
func TestOutlookOfTheDelayAlone(t *testing.T) {
	p := Plan{ChannelDelaySDUS: 0.5, SettleSeconds: 0.25}.Defaults()
	r := heard()
	r.TrebleSDDB = 300
	const n = 12 // stays of 0.8 s and as many hops of 0.6 s, with 0.25 s to settle, in 20 s
	d := tape.StereoCassette.Arcmin(0.4) * math.Sqrt(3/chopSeconds)
	want := math.Sqrt(math.Pow(tape.StereoCassette.Arcmin(0.5), 2) + (d*d+wanderFloor*wanderFloor)/n)
	if got := p.outlook(r, 20); math.Abs(got-want) > 1e-3*want {
		t.Errorf("outlook %.4f', want %.4f'", got, want)
	}
}

func TestOutlookFollowsThePassage(t *testing.T) {
	p := Plan{ChannelDelaySDUS: 50}.Defaults() // so that the treble must tell
	at := func(change func(*record.Reading)) float64 {
		r := heard()
		change(&r)
		return p.outlook(r, 20)
	}
	usual := at(func(*record.Reading) {})
	if livelier := at(func(r *record.Reading) { r.TrebleSDDB *= 3 }); livelier < 1.2*usual {
		t.Errorf("with a livelier treble %.2f', with the usual %.2f'", livelier, usual)
	}
	if hissing := at(func(r *record.Reading) { r.Coherence = 0.3 }); hissing < 1.1*usual {
		t.Errorf("in hiss %.2f', without %.2f'", hissing, usual)
	}
	if longer := p.outlook(heard(), 80); longer > 0.6*usual || longer < 0.4*usual {
		t.Errorf("in four times the tape %.2f', want about half of %.2f'", longer, usual)
	}
	if none := at(func(r *record.Reading) { r.DelaySDUS = 1e6 }); !math.IsInf(none, 1) {
		t.Errorf("without a delay %.2f', want none", none)
	}
}

func TestReadySaysWhatThePassageCanSettle(t *testing.T) {
	for _, c := range []struct {
		within, delaySD float64
		verdict, do     string
	}{
		{1, 0.5, Pass, ""},
		{0.15, 50, Doubt, "align this head by a tone once and name it by --unit: that settles the fixed delay of the channels; or ask for less by --within"},
		{0.05, 50, Doubt, "play a passage with steadier and brighter treble, or a tone; or ask for less by --within"},
	} {
		course := &course{plan: Plan{WithinArcmin: c.within, ChannelDelaySDUS: c.delaySD}.Defaults()}
		var got record.Check
		course.checkOutlook(func(name, verdict, do, format string, args ...any) {
			got = record.Check{Name: name, Verdict: verdict, Do: do, Found: fmt.Sprintf(format, args...)}
		}, heard())
		if got.Verdict != c.verdict || c.do != "" && got.Do != c.do {
			t.Errorf("within %g', delay to %g us: %+v", c.within, c.delaySD, got)
		}
	}
}

// BenchmarkAccuracyOutlook sets what a passage promised beside what it gave: runs on
// each piece that start within 15' of the top and refine for some 20 s.
func BenchmarkAccuracyOutlook(b *testing.B) {
	seeds := min(tableSeeds(), 100)
	for range b.N {
		fmt.Printf("\nOutlook in %d s, %d seeds a piece:\n%-14s %5s %15s %8s %7s %6s\n", outlookSeconds, seeds, "piece", "rms'", "95 %", "promised", "unset", "none")
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

// promiseOf is the outlook on the bench of a seed before anything moves.
func promiseOf(b *testing.B, c cell, seed uint64) float64 {
	s := &scope{TB: b}
	defer s.end()
	course := begin(newRig(s, c.profile, c.after+seed, c.plan).setup)
	r, _, err := course.hear(context.Background(), readySeconds)
	if err != nil {
		b.Fatal(err)
	}
	return course.plan.outlook(r, outlookSeconds)
}
