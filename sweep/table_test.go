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
	"testing"
	"time"

	"headtrue/sweep/bench"
	"headtrue/sweep/record"
)

// cell is one row of the accuracy table: a bench, a plan, and how many seeds.
type cell struct {
	name    string
	profile bench.Profile
	plan    Plan
	seeds   int
	most    float64 // arcmin; a run that is further off is listed
}

// wide is the default deck with the head anywhere within ±60' at the start and
// a window that reaches it.
func wide(p bench.Profile, plan Plan) (bench.Profile, Plan) {
	p.Deck.StartTiltArcmin, p.Deck.StartTiltRangeArcmin = 0, 60
	plan.WindowDeg = 260
	return p, plan
}

func toneCell(seeds int) cell {
	p, plan := wide(toneBench(), Plan{ToneHz: 10000})
	return cell{"tone 10 kHz", p, plan, seeds, 3}
}

// unknownMount is a mount of which the program knows nothing: a gearing of 60 to
// 150' a turn. The pressure of the blade is left out: it is another matter.
func (c cell) unknownMount() cell {
	c.profile.Screw.ArcminPerTurn, c.profile.Screw.GearingRangePercent = 105, 43
	c.profile.Screw.BladeTiltArcmin = 0
	c.plan.WindowDeg = 600
	return c
}

// hasty listens to as found and as left for so many seconds only.
func (c cell) hasty(within, proofSeconds float64) cell {
	c.plan.WithinArcmin, c.plan.ProofSeconds = within, proofSeconds
	c.name = fmt.Sprintf("%s, within %.2f'", c.name, within)
	return c
}

// channelDelay is a fixed delay of the channels drawn from within ±range us, of
// which the program knows no more than sd.
func (c cell) channelDelay(rangeUS, sdUS float64) cell {
	c.profile.Deck.ChannelDelayUS, c.profile.Deck.ChannelDelayRangeUS = 3, rangeUS
	c.plan.ChannelDelaySDUS = sdUS
	if sdUS < knownUS {
		c.plan.ChannelDelayUS = 3
		c.name += ", delay known"
	}
	return c
}

func musicCell(seeds int) cell {
	p, plan := wide(bench.Default(), Plan{})
	return cell{"built-in music", p, plan, seeds, 8}
}

// materialCell plays a real recording out of the material folder.
func materialCell(name string, seeds int) cell {
	p, plan := wide(bench.Default(), Plan{})
	p.Programme.Kind, p.Programme.WAV = "wav", filepath.Join(os.Getenv("HEADTRUE_MATERIAL"), name)
	return cell{name, p, plan, seeds, 8}
}

// result is one run of a cell.
type result struct {
	seed                 uint64
	start, off           float64 // arcmin
	sd                   float64
	tape, took           float64 // seconds
	outcome              record.Outcome
	agreement            string
	fitted, delayZero    float64 // arcmin from the truth
	channelUS, channelSD float64
	say                  string
}

// scope ends what was begun within it when it ends, so that the many runs of a
// table do not all stay in memory until the table is done.
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
	r := newRig(s, c.profile, seed, c.plan)
	began := time.Now()
	end, err := Align(context.Background(), r.setup)
	if err != nil {
		tb.Error(err)
	}
	truth := r.bench.Truth()
	out := result{seed: seed, start: truth.FoundTiltArcmin - truth.OptimumTiltArcmin, off: truth.ErrorArcmin,
		tape: r.tapeSeconds(), outcome: end.Outcome, say: end.Say, took: time.Since(began).Seconds()}
	if d := r.decision(); d != nil {
		// the truth on the jig's scale: where the head now stands less its error
		zero := truth.ShaftDeg - truth.ErrorArcmin/truth.GearingArcminPerTurn*360
		perDeg := truth.GearingArcminPerTurn / 360
		out.channelUS, out.channelSD = d.ChannelDelayUS-truth.ChannelDelayUS, d.ChannelDelaySDUS
		out.sd, out.agreement = d.Optimum.SDArcmin, d.Agreement
		out.fitted, out.delayZero = (d.Fitted.Deg-zero)*perDeg, (d.DelayZero.Deg-zero)*perDeg
	}
	return out
}

// table runs all seeds of a cell, two at a time.
func (c cell) table(tb testing.TB) []result {
	out := make([]result, c.seeds)
	var wg sync.WaitGroup
	next := make(chan int)
	for range 2 {
		wg.Add(1)
		go func() {
			defer wg.Done()
			for i := range next {
				out[i] = c.run(tb, uint64(i+1))
			}
		}()
	}
	for i := range c.seeds {
		next <- i
	}
	close(next)
	wg.Wait()
	return out
}

type summary struct {
	rms, worst, tape, worstTape, speed, sd float64
	channel, channelSD                     float64
	fit, delay                             float64 // rms of the two single views
	wrongLobe, ended                       int
	covered                                int // within 1.96 of the stated sd
}

// wrongLobeArcmin is half way to the nearest false zero of the phase at 10 kHz.
const wrongLobeArcmin = 9

func summarise(rs []result) summary {
	var s summary
	var tape, took float64
	for _, r := range rs {
		s.rms += r.off * r.off
		s.worst = max(s.worst, math.Abs(r.off))
		s.worstTape = max(s.worstTape, r.tape)
		s.sd += r.sd * r.sd
		tape += r.tape
		took += r.took
		s.channel += r.channelUS * r.channelUS
		s.channelSD += r.channelSD * r.channelSD
		s.fit += r.fitted * r.fitted
		s.delay += r.delayZero * r.delayZero
		if math.Abs(r.off) <= 1.96*r.sd {
			s.covered++
		}
		if math.Abs(r.off) > wrongLobeArcmin {
			s.wrongLobe++
		}
		if r.outcome == record.Aligned || r.outcome == record.LessCertain {
			s.ended++
		}
	}
	n := float64(len(rs))
	s.channel, s.channelSD = math.Sqrt(s.channel/n), math.Sqrt(s.channelSD/n)
	s.fit, s.delay = math.Sqrt(s.fit/n), math.Sqrt(s.delay/n)
	s.rms, s.sd, s.tape, s.speed = math.Sqrt(s.rms/n), math.Sqrt(s.sd/n), tape/n, tape/took
	return s
}

// The short form of the table: a few seeds, and limits that only a clear
// regression breaks. The figures themselves are the benchmark's.
func TestAccuracyHasNotFallen(t *testing.T) {
	n := int(seeds(12))
	for _, c := range []struct {
		cell
		rms, tape float64 // arcmin, seconds
	}{
		{toneCell(n), 1.0, 20},
		{toneCell(n).unknownMount().channelDelay(10, 5.8).hasty(0.25, 1), 0.5, 16},
		{musicCell(n).unknownMount().channelDelay(0.87, 0.5).hasty(1, 0.4), 1.0, 9},
		{musicCell(n), 1.6, 80},
	} {
		s := summarise(c.table(t))
		t.Logf("%s: %.2f' rms, worst %.2f', %.1f s of tape", c.name, s.rms, s.worst, s.tape)
		if s.rms > c.rms || s.tape > c.tape || s.wrongLobe > 0 || s.ended < n {
			t.Errorf("%s: %.2f' rms (%.2f allowed), %.1f s of tape (%.1f), %d in a wrong lobe, %d of %d set",
				c.name, s.rms, c.rms, s.tape, c.tape, s.wrongLobe, s.ended, n)
		}
	}
}

// BenchmarkAccuracy prints the accuracy table; HEADTRUE_SEEDS sets the number of
// runs in a row (200 unless set), HEADTRUE_MATERIAL adds real recordings.
func BenchmarkAccuracy(b *testing.B) {
	seeds := 200
	if s, err := strconv.Atoi(os.Getenv("HEADTRUE_SEEDS")); err == nil {
		seeds = s
	}
	cells := []cell{toneCell(seeds), musicCell(seeds)}
	names := []string{"piece.wav", "piece-reverb.wav", "recording.wav"}
	if os.Getenv("HEADTRUE_MATERIAL") == "" {
		names = nil
	}
	for _, name := range names {
		cells = append(cells, materialCell(name, seeds))
	}
	cells = append(cells, toneCell(seeds).unknownMount().channelDelay(10, 5.8).hasty(0.25, 1))
	const uniformHalfUS = 0.87 // a uniform ± of 0.87 us has a deviation of 0.5
	known := []cell{musicCell(seeds)}
	for _, name := range names {
		known = append(known, materialCell(name, seeds))
	}
	for _, c := range known {
		c = c.unknownMount().channelDelay(uniformHalfUS, 0.5)
		cells = append(cells, c.hasty(1, 0.4), c.hasty(0.5, 0.6), c.hasty(0.25, 0.8))
	}
	for range b.N {
		fmt.Printf("\n%-44s %5s %8s %8s %8s %8s %8s %8s %8s %8s %6s %6s %9s %9s %7s\n", "cell", "runs", "rms '", "worst '", "stated '", "in 95%", "curve '", "delay '", "chan us", "stated", "wrong", "ended", "tape s", "most s", "x real")
		for _, c := range cells {
			rs := c.table(b)
			s := summarise(rs)
			fmt.Printf("%-44s %5d %8.2f %8.2f %8.2f %7.1f%% %8.2f %8.2f %8.2f %8.2f %6d %6d %9.1f %9.1f %7.0f\n", c.name, c.seeds, s.rms, s.worst, s.sd, 100*float64(s.covered)/float64(c.seeds), s.fit, s.delay, s.channel, s.channelSD, s.wrongLobe, s.ended, s.tape, s.worstTape, s.speed)
			for _, r := range rs {
				if math.Abs(r.off) > c.most || r.outcome != record.Aligned && r.outcome != record.LessCertain {
					fmt.Printf("    seed %d from %.0f': %.2f' off, stated %.2f', fit %.2f', delay zero %.2f', %s, %s: %.110s\n", r.seed, r.start, r.off, r.sd, r.fitted, r.delayZero, r.agreement, r.outcome, r.say)
				}
			}
		}
	}
}
