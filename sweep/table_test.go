package sweep

import (
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"sync"
	"testing"
	"time"

	"headtrue/sweep/bench"
	"headtrue/sweep/record"
)

// cell is one row of the accuracy table: a bench, a plan, and what the row must
// reach over its seeds.
type cell struct {
	name      string
	profile   bench.Profile
	plan      Plan
	seeds     int
	rms, most float64 // arcmin
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
	return cell{"tone 10 kHz, 20 dB", p, plan, seeds, 1.0, 3.0}
}

func shortToneCell(seeds int) cell {
	c := toneCell(seeds)
	c.name = "tone, short proof"
	c.plan.ProofSeconds, c.plan.WithinArcmin = 1, 0.25
	c.profile.Screw.ArcminPerTurn, c.profile.Screw.GearingRangePercent = 105, 43
	c.profile.Deck.ChannelDelayUS, c.profile.Deck.ChannelDelayRangeUS = 0, 10
	c.plan.WindowDeg = 600
	c.profile.Screw.BladeTiltArcmin = 0
	return c
}

// knownCell has a fixed delay that is known to 0.5 us.
func knownCell(name string, seeds int, within, proof float64) cell {
	c := musicCell(seeds)
	c.name = fmt.Sprintf("known, within %.2f", within)
	c.plan.ProofSeconds, c.plan.WithinArcmin, c.plan.ChannelDelayUS, c.plan.ChannelDelaySDUS = proof, within, 3, 0.5
	c.profile.Screw.ArcminPerTurn, c.profile.Screw.GearingRangePercent = 105, 43
	c.profile.Deck.ChannelDelayRangeUS = 0.8
	c.plan.WindowDeg = 600
	c.profile.Screw.BladeTiltArcmin = 0
	if name != "" {
		c.profile.Programme.Kind, c.profile.Programme.WAV = "wav", filepath.Join(os.Getenv("HEADTRUE_MATERIAL"), name)
	}
	return c
}

func musicCell(seeds int) cell {
	p, plan := wide(bench.Default(), Plan{})
	return cell{"built-in music, 20 dB", p, plan, seeds, 2.0, 8}
}

// materialCell plays a real recording out of the material folder.
func materialCell(name string, seeds int) cell {
	p, plan := wide(bench.Default(), Plan{})
	p.Programme.Kind, p.Programme.WAV = "wav", filepath.Join(os.Getenv("HEADTRUE_MATERIAL"), name)
	return cell{name + ", 20 dB", p, plan, seeds, 2.0, 8}
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

func (c cell) run(tb testing.TB, seed uint64) result {
	r := newRig(tb, c.profile, seed, c.plan)
	defer func() { r.jig.Close(); r.close() }()
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

// BenchmarkAccuracy prints the accuracy table; HEADTRUE_SEEDS sets the number of
// runs in a row (200 unless set), HEADTRUE_MATERIAL adds real recordings.
func BenchmarkAccuracy(b *testing.B) {
	seeds := 200
	if s, err := strconv.Atoi(os.Getenv("HEADTRUE_SEEDS")); err == nil {
		seeds = s
	}
	cells := []cell{toneCell(seeds), shortToneCell(seeds), musicCell(seeds)}
	if os.Getenv("HEADTRUE_CELL") == "tone" {
		cells = cells[:2]
	}
	if os.Getenv("HEADTRUE_CELL") == "known" {
		cells = []cell{knownCell("", seeds, 1, 0.5), knownCell("", seeds, 0.5, 0.7), knownCell("", seeds, 0.25, 1), knownCell("piece.wav", seeds, 0.5, 0.7), knownCell("recording.wav", seeds, 0.5, 0.7)}
	}
	if os.Getenv("HEADTRUE_CELL") == "music" {
		cells = []cell{musicCell(seeds), materialCell("piece.wav", seeds), materialCell("recording.wav", seeds)}
	}
	if os.Getenv("HEADTRUE_MATERIAL") != "" && os.Getenv("HEADTRUE_CELL") == "" {
		for _, name := range []string{"piece.wav", "piece-reverb.wav", "recording.wav"} {
			cells = append(cells, materialCell(name, seeds))
		}
	}
	for range b.N {
		fmt.Printf("\n%-26s %5s %8s %8s %8s %8s %8s %8s %8s %6s %6s %9s %9s %7s\n", "cell", "runs", "rms '", "worst '", "stated '", "curve '", "delay '", "chan us", "stated", "wrong", "ended", "tape s", "most s", "x real")
		for _, c := range cells {
			rs := c.table(b)
			s := summarise(rs)
			fmt.Printf("%-26s %5d %8.2f %8.2f %8.2f %8.2f %8.2f %8.2f %8.2f %6d %6d %9.1f %9.1f %7.0f\n", c.name, c.seeds, s.rms, s.worst, s.sd, s.fit, s.delay, s.channel, s.channelSD, s.wrongLobe, s.ended, s.tape, s.worstTape, s.speed)
			listed := 0
			for _, r := range rs {
				if listed++; listed < 9 && math.Abs(r.off) > c.most || r.outcome != record.Aligned {
					fmt.Printf("    seed %d from %.0f': %.2f' off, stated %.2f', fit %.2f', delay zero %.2f', %s, %s: %.60s\n", r.seed, r.start, r.off, r.sd, r.fitted, r.delayZero, r.agreement, r.outcome, r.say)
				}
			}
		}
	}
}
