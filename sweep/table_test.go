package sweep

import (
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"headtrue/sweep/bench"
	"headtrue/sweep/estimate"
	"headtrue/sweep/record"
)

// cell is one row of an accuracy table: a bench, a plan, the number of seeds, and the seed
// before the first.
type cell struct {
	name    string
	profile bench.Profile
	plan    Plan
	seeds   int
	after   uint64
}

// wide is the default deck with the head anywhere within ±60' at the start and a window that
// contains this range.
func wide(p bench.Profile, plan Plan) (bench.Profile, Plan) {
	p.Deck.StartTiltArcmin, p.Deck.StartTiltRangeArcmin = 0, 60
	plan.WindowDeg = 260
	return p, plan
}

func toneCell(seeds int) cell {
	p, plan := wide(toneBench(), Plan{ToneHz: 10000})
	return cell{name: "tone 10 kHz", profile: p, plan: plan, seeds: seeds}
}

// unknownMount is a mount without any prior data for the program: a gearing of 60 to 150' a
// turn. The pressure of the blade is left out: that is another matter.
func (c cell) unknownMount() cell {
	c.profile.Screw.ArcminPerTurn, c.profile.Screw.GearingRangePercent = 105, 43
	c.profile.Screw.BladeTiltArcmin = 0
	c.plan.WindowDeg = 600
	return c
}

// hasty listens to as found and as left for the given seconds only.
func (c cell) hasty(within, proofSeconds float64) cell {
	c.plan.WithinArcmin, c.plan.ProofSeconds = within, proofSeconds
	c.name = fmt.Sprintf("%s, within %.2f'", c.name, within)
	return c
}

// channelDelay is a fixed delay of the channels drawn from within ±range us; the program
// receives only its standard deviation.
func (c cell) channelDelay(rangeUS, sdUS float64) cell {
	c.profile.Deck.ChannelDelayUS, c.profile.Deck.ChannelDelayRangeUS = 3, rangeUS
	c.plan.ChannelDelaySDUS = sdUS
	if sdUS < estimate.KnownUS {
		c.plan.ChannelDelayUS = 3
		c.name += ", delay known"
	}
	return c
}

func musicCell(seeds int) cell {
	p, plan := wide(bench.Default(), Plan{})
	return cell{name: "built-in music", profile: p, plan: plan, seeds: seeds}
}

// materialCell plays a real recording from the material folder.
func materialCell(name string, seeds int) cell {
	p, plan := wide(bench.Default(), Plan{})
	p.Programme.Kind, p.Programme.WAV = "wav", filepath.Join(os.Getenv("HEADTRUE_MATERIAL"), name)
	return cell{name: name, profile: p, plan: plan, seeds: seeds}
}

// result is the result of one run of a cell.
type result struct {
	seed                 uint64
	start, off           float64 // arcmin
	sd                   float64
	tape, took           float64 // seconds
	motorDeg             float64 // of screw, sum of all turns of the motor
	outcome              record.Outcome
	agreement            string
	secondSource         bool    // a mix with delays of its own was detected
	fitted, delayZero    float64 // arcmin from the truth; NaN if there was none
	channelUS, channelSD float64
	drive                driveErrors
	say                  string
}

// isSet reports whether the run ended with the head set, in doubt or not.
func (r result) isSet() bool {
	return r.outcome == record.Aligned || r.outcome == record.LessCertain || r.outcome == record.Disagree
}

func (r result) String() string {
	views := ""
	if !math.IsNaN(r.fitted) {
		views += fmt.Sprintf("fit %.2f', ", r.fitted)
	}
	if !math.IsNaN(r.delayZero) {
		views += fmt.Sprintf("delay zero %.2f', ", r.delayZero)
	}
	return fmt.Sprintf("seed %d from %.0f': %.2f' off, stated %.2f', %s%.0f s, %s, %s: %.150s",
		r.seed, r.start, r.off, r.sd, views, r.tape, r.agreement, r.outcome, r.say)
}

// apart separates the runs that set the head from those that ended without.
func apart(rs []result) (set, unset []result) {
	for _, r := range rs {
		if r.isSet() {
			set = append(set, r)
		} else {
			unset = append(unset, r)
		}
	}
	return set, unset
}

// astray returns the runs whose error is not explained by their stated uncertainty.
func astray(set []result) []result {
	return slices.DeleteFunc(slices.Clone(set), func(r result) bool { return math.Abs(r.off) <= 4*r.sd })
}

// scope runs its cleanups when it ends, so that the many runs of a table do not all stay in
// memory until the table is done.
type scope struct {
	testing.TB
	after []func()
}

func (s *scope) Cleanup(f func()) { s.after = append(s.after, f) }

func (s *scope) end() {
	for _, f := range slices.Backward(s.after) {
		f()
	}
}

func (c cell) run(tb testing.TB, seed uint64) result {
	s := &scope{TB: tb}
	defer s.end()
	r := unopened(s, c.profile, seed, c.plan)
	if err := r.greet(jigProfile()); err != nil {
		return result{seed: seed, outcome: record.NotReady, say: err.Error()}
	}
	began := time.Now()
	end, err := Align(context.Background(), r.setup)
	if err != nil {
		tb.Error(err)
	}
	truth := r.bench.Truth()
	out := result{seed: seed, start: truth.FoundTiltArcmin - truth.OptimumTiltArcmin, off: truth.RestTiltArcmin - truth.OptimumTiltArcmin,
		tape: r.entries[len(r.entries)-1].TapeSeconds, motorDeg: float64(r.jig.Travel()),
		fitted: math.NaN(), delayZero: math.NaN(), outcome: end.Outcome, say: end.Say, took: time.Since(began).Seconds()}
	if d := r.decision(); d != nil {
		// the truth on the jig's scale: the present position of the head minus its error
		zero := truth.ShaftDeg - truth.ErrorArcmin/truth.GearingArcminPerTurn*360
		perDeg := truth.GearingArcminPerTurn / 360
		out.channelUS, out.channelSD = d.ChannelDelayUS-truth.ChannelDelayUS, d.ChannelDelaySDUS
		out.drive = driveErrorsOf(d, truth)
		out.sd, out.agreement, out.secondSource = d.Optimum.SDArcmin, d.Agreement, d.SecondSourceHeard
		if d.Fitted.OK {
			out.fitted = (d.Fitted.Deg - zero) * perDeg
		}
		if d.DelayZero.OK {
			out.delayZero = (d.DelayZero.Deg - zero) * perDeg
		}
	}
	return out
}

// table runs all seeds of a cell, two at a time.
func (c cell) table(tb testing.TB) []result {
	out := make([]result, c.seeds)
	var wg sync.WaitGroup
	var begun, ended atomic.Int64
	for range 2 {
		wg.Go(func() {
			for i := begun.Add(1); i <= int64(c.seeds); i = begun.Add(1) {
				out[i-1] = c.run(tb, c.after+uint64(i))
				ended.Add(1)
			}
		})
	}
	wg.Wait()
	if ended.Load() < int64(c.seeds) { // a run that cannot begin ends only its goroutine
		tb.FailNow()
	}
	return out
}

// summary is the summary of some runs; except for worst values and counts, rms or mean.
type summary struct {
	n                      int
	rms, worst, sd         float64 // arcmin
	fit, delay             float64 // rms of the two single estimates, if any
	channel, channelSD     float64 // us
	tape, worstTape, speed float64 // seconds; times real time
	motorDeg               float64
	wrongLobe, doubted     int
	covered                int // within 1.96 of the stated sd
	sureCovered            int // those of them that did not end in doubt
	differ                 int // estimates found to differ
}

// wrongLobeArcmin is half the distance to the nearest false zero of the phase at 10 kHz.
const wrongLobeArcmin = 9

func summarise(rs []result) summary {
	s := summary{n: len(rs)}
	mean := func(of func(r result) float64) float64 {
		var sum, n float64
		for _, r := range rs {
			if x := of(r); !math.IsNaN(x) {
				sum, n = sum+x, n+1
			}
		}
		return sum / n
	}
	rms := func(of func(r result) float64) float64 {
		return math.Sqrt(mean(func(r result) float64 { return square(of(r)) }))
	}
	s.rms, s.sd = rms(func(r result) float64 { return r.off }), rms(func(r result) float64 { return r.sd })
	s.fit, s.delay = rms(func(r result) float64 { return r.fitted }), rms(func(r result) float64 { return r.delayZero })
	s.channel, s.channelSD = rms(func(r result) float64 { return r.channelUS }), rms(func(r result) float64 { return r.channelSD })
	s.tape, s.motorDeg = mean(func(r result) float64 { return r.tape }), mean(func(r result) float64 { return r.motorDeg })
	s.speed = s.tape / mean(func(r result) float64 { return r.took })
	for _, r := range rs {
		s.worst, s.worstTape = max(s.worst, math.Abs(r.off)), max(s.worstTape, r.tape)
		if math.Abs(r.off) <= 1.96*r.sd {
			s.covered++
			if r.outcome != record.Disagree {
				s.sureCovered++
			}
		}
		if r.agreement == "differ" {
			s.differ++
		}
		if math.Abs(r.off) > wrongLobeArcmin {
			s.wrongLobe++
		}
		if r.outcome == record.Disagree {
			s.doubted++
		}
	}
	return s
}

// The short form of the tables: a few seeds, and limits that only a clear regression breaks.
// The benchmarks give the figures themselves; TestGuardOfRuns has the plain tone and music.
func TestAccuracyHasNotFallen(t *testing.T) {
	t.Parallel()
	n, few := 12, 8
	if testing.Short() {
		n, few = 5, 4
	}
	for _, c := range []struct {
		cell
		rms, tape float64 // arcmin, seconds
	}{
		{toneCell(n).unknownMount().channelDelay(10, 5.8).hasty(0.25, 0.6), 0.5, 16},
		{musicCell(n).unknownMount().channelDelay(0.87, 0.5).hasty(1, 0.4), 1.0, 9},
		{gridCell(t, "tone-30dB-none", few), 0.45, 14},
		{gridCell(t, "tone-30dB-unknown", few), 0.7, 30},
	} {
		c.holds(t, c.rms, c.tape)
	}
}

// holds runs a cell and fails if it exceeds these limits, in arcmin and seconds.
func (c cell) holds(t *testing.T, rms, tape float64) {
	t.Helper()
	set, unset := apart(c.table(t))
	s := summarise(set)
	t.Logf("%s: %.2f' rms, worst %.2f', %.1f s of tape", c.name, s.rms, s.worst, s.tape)
	if s.rms > rms || s.tape > tape || s.wrongLobe > 0 || s.doubted > 0 || len(unset) > 0 {
		t.Errorf("%s: %.2f' rms (%.2f allowed), %.1f s of tape (%.1f), %d in a wrong lobe, %d in doubt, not set: %v",
			c.name, s.rms, rms, s.tape, tape, s.wrongLobe, s.doubted, unset)
	}
}

// tableSeeds is the number of runs per row of a table: 200, unless HEADTRUE_SEEDS is set.
func tableSeeds() int {
	if s, err := strconv.Atoi(os.Getenv("HEADTRUE_SEEDS")); err == nil && s > 0 {
		return s
	}
	return 200
}

// specialCells are the rows of the table of special cells: the default bench, whose
// backlash, gearing and spacing fluctuation differ from the grid's.
func specialCells(seeds int) []cell {
	names := []string{"piece.wav", "piece-reverb.wav", "recording.wav"}
	if os.Getenv("HEADTRUE_MATERIAL") == "" {
		names = nil
	}
	programmes := []cell{musicCell(seeds)}
	for _, name := range names {
		programmes = append(programmes, materialCell(name, seeds))
	}
	cells := append([]cell{toneCell(seeds)}, programmes...)
	cells = append(cells, toneCell(seeds).unknownMount().channelDelay(10, 5.8).hasty(0.25, 0.6))
	const uniformHalfUS = 0.87 // a uniform ±0.87 us has a standard deviation of 0.5
	for _, c := range programmes {
		c = c.unknownMount().channelDelay(uniformHalfUS, 0.5)
		cells = append(cells, c.hasty(1, 0.4), c.hasty(0.5, 0.6), c.hasty(0.25, 0.8))
	}
	return cells
}

// delayIsFree reports whether the runs of a cell estimate the fixed delay of the channels,
// and so fit the treble: the others use the delay of the plan.
func (c cell) delayIsFree() bool { return c.plan.Defaults().ChannelDelaySDUS >= estimate.KnownUS }

// BenchmarkAccuracySpecial prints the table of special cells; HEADTRUE_SEEDS and
// HEADTRUE_MATERIAL, without which it has no real recordings, as for the grid.
func BenchmarkAccuracySpecial(b *testing.B) {
	for range b.N {
		var free, known []cell
		for _, c := range specialCells(tableSeeds()) {
			if c.delayIsFree() {
				free = append(free, c)
			} else {
				known = append(known, c)
			}
		}
		fmt.Printf("\nSpecial cells, %d seeds each; the fixed delay of the channels is not known:\n", tableSeeds())
		printSpecial(b, free, true)
		fmt.Printf("\nThe fixed delay of the channels is known, and the run goes by the delay:\n")
		printSpecial(b, known, false)
	}
}

// printSpecial runs cells and prints them; if fitted is true, with the fitted values.
func printSpecial(b *testing.B, cells []cell, fitted bool) {
	columns := ""
	if fitted {
		columns = fmt.Sprintf(" | %7s %7s %8s %7s", "curve'", "delay'", "chan us", "stated")
	}
	fmt.Printf("%-44s %5s %15s %7s %7s %6s %5s %6s %6s %7s %7s %7s%s\n", "cell", "rms'", "95 %", "worst'", "stated", "in95",
		"lobe", "doubt", "unset", "tape s", "most", "x real", columns)
	for _, c := range cells {
		set, unset := apart(c.table(b))
		s := summarise(set)
		lo, hi := rmsInterval(s.rms, s.n)
		if fitted {
			columns = fmt.Sprintf(" | %7.2f %7.2f %8.2f %7.2f", s.fit, s.delay, s.channel, s.channelSD)
		}
		fmt.Printf("%-44s %5.2f %15s %7.2f %7.2f %5.1f%% %5d %6d %6d %7.1f %7.1f %7.0f%s\n", c.name, s.rms, fmt.Sprintf("[%.3f, %.3f]", lo, hi), s.worst, s.sd,
			100*float64(s.covered)/float64(s.n), s.wrongLobe, s.doubted, len(unset), s.tape, s.worstTape, s.speed, columns)
		for _, r := range append(unset, astray(set)...) {
			fmt.Println("    " + r.String())
		}
	}
}

// BenchmarkAccuracyLobe prints how often a tone is set in a wrong lobe, on a punctual and on
// a late bench, over five times as many starts as the other tables have seeds: 1,000, unless
// HEADTRUE_SEEDS is set. HEADTRUE_CELLS selects a bench by its name.
func BenchmarkAccuracyLobe(b *testing.B) {
	for range b.N {
		for name, late := range map[string]bench.Late{"punctual": {}, "late": bench.UsualLate()} {
			if only := os.Getenv("HEADTRUE_CELLS"); only != "" && only != name {
				continue
			}
			n := 5 * tableSeeds()
			c := toneCell(n).unknownMount().channelDelay(10, 5.8).hasty(0.25, 0.6)
			c.profile.Late = late
			set, unset := apart(c.table(b))
			wrong := summarise(set).wrongLobe
			lo, hi := binomialLimits(wrong, len(set))
			fmt.Printf("\nTone on a %s bench from %d starts within 60' either side: %d set in a wrong lobe, %.2f %% [%.2f, %.2f], %d not set\n",
				name, n, wrong, 100*float64(wrong)/float64(len(set)), 100*lo, 100*hi, len(unset))
			for _, r := range append(unset, astray(set)...) {
				fmt.Println("    " + r.String())
			}
		}
	}
}
