//go:build outside && portaudio && unix

package main

import (
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// campaign is a row of BenchmarkLive: decks in real time. Each deck is a process that plays
// through its own sound server; another process aligns it.
type campaign struct {
	name string
	runs int
	args []string // of the bench
	busy bool     // one core is kept busy meanwhile
	seed int      // the first seed
}

// liveRun is the result of one run, and its true errors.
type liveRun struct {
	outcome                    string
	off, sd                    float64 // arcmin
	gearingPercent, gearingZ   float64
	backlashDeg, backlashSDDeg float64
	tape                       float64
	say                        string
}

// BenchmarkLive prints how well a tone is set in real time. HEADTRUE_SEEDS is the number
// of runs of the first row; the second has half of it. HEADTRUE_CELLS picks rows.
func BenchmarkLive(b *testing.B) {
	dir := b.TempDir()
	program := filepath.Join(dir, "headtrue")
	if out, err := exec.Command("go", "build", "-tags", "portaudio", "-o", program, ".").CombinedOutput(); err != nil {
		b.Fatalf("go build: %v\n%s", err, out)
	}
	n, err := strconv.Atoi(os.Getenv("HEADTRUE_SEEDS"))
	if err != nil {
		n = 40
	}
	for range b.N {
		fmt.Printf("\nTone of 10 kHz in real time through a sound server; error over stated in brackets:\n%-28s %5s %6s %7s %7s %6s %16s %17s %7s %7s\n",
			"machine and bench", "runs", "rms'", "worst'", "stated", "in95", "gearing %", "backlash deg", "tape s", "not set")
		for _, c := range []campaign{
			{name: "idle", runs: n, seed: 20001},
			{name: "the other core busy", runs: n / 2, seed: 21001, busy: true},
			{name: "bench --late, core busy", runs: n, seed: 22001, args: []string{"--late"}, busy: true},
		} {
			if only := os.Getenv("HEADTRUE_CELLS"); only == "" || strings.Contains(c.name, only) {
				c.print(c.all(b, program))
			}
		}
	}
}

func (c campaign) all(b *testing.B, program string) []liveRun {
	if c.busy {
		defer keepBusy()()
	}
	runs := make([]liveRun, c.runs)
	for i := range runs {
		b.Run(fmt.Sprint(c.seed+i), func(b *testing.B) { runs[i] = c.one(b, program, c.seed+i) })
	}
	return runs
}

// keepBusy keeps one core busy until stop is called.
func keepBusy() (stop func()) {
	ended, done := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(done)
		for x := 1.0; ; x = math.Sqrt(x + 1) {
			select {
			case <-ended:
				return
			default:
			}
		}
	}()
	return func() { close(ended); <-done }
}

func (c campaign) one(b *testing.B, program string, seed int) liveRun {
	d := startDeck(b, program, append([]string{"--profile", "tone", "--seed", strconv.Itoa(seed)}, c.args...)...)
	p := d.work(b, byPulse, "align", "--tone", "10000")
	p.wait(b)
	got, truth := p.result(b), d.settled(b)
	number := func(name string) float64 {
		v, _ := got[name].(float64)
		return v
	}
	g := truth.GearingArcminPerTurn
	return liveRun{
		outcome: fmt.Sprint(got["outcome"]), off: truth.ErrorArcmin, sd: number("optimum_sd_arcmin"),
		gearingPercent: 100 * (number("gearing_arcmin_per_turn") - g) / g,
		gearingZ:       (number("gearing_arcmin_per_turn") - g) / number("gearing_sd_arcmin_per_turn"),
		backlashDeg:    number("backlash_deg") - truth.BacklashDeg, backlashSDDeg: number("backlash_sd_deg"),
		tape: number("tape_seconds"), say: fmt.Sprint(got["say"]),
	}
}

func (c campaign) print(runs []liveRun) {
	var n, off, sd, in, gear, gearZ, back, backZ, tape, worst float64
	var unset []string
	for _, r := range runs {
		if r.outcome != "aligned" && r.outcome != "aligned-less-certain" {
			unset = append(unset, fmt.Sprintf("    %s, %.2f' off: %.200s", r.outcome, r.off, r.say))
			continue
		}
		n++
		off, sd, tape = off+r.off*r.off, sd+r.sd*r.sd, tape+r.tape
		worst = math.Max(worst, math.Abs(r.off))
		if math.Abs(r.off) <= 1.96*r.sd {
			in++
		}
		gear, gearZ = gear+r.gearingPercent*r.gearingPercent, gearZ+r.gearingZ*r.gearingZ
		back, backZ = back+r.backlashDeg*r.backlashDeg, backZ+math.Pow(r.backlashDeg/r.backlashSDDeg, 2)
	}
	rms := func(sum float64) float64 { return math.Sqrt(sum / n) }
	fmt.Printf("%-28s %5d %6.2f %7.2f %7.2f %5.1f%% %8.2f (%5.2f) %9.2f (%5.2f) %7.1f %7d\n", c.name, len(runs), rms(off), worst, rms(sd),
		100*in/n, rms(gear), rms(gearZ), rms(back), rms(backZ), tape/n, len(unset))
	for _, u := range unset {
		fmt.Println(u)
	}
}
