package cue

import (
	"context"
	"fmt"
	"maps"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"testing"

	"headtrue/sweep/bench"
	"headtrue/sweep/stream"
)

// playedCue is what a run by hand plays in some seconds: turning towards a target that is passed,
// an edge, a halt.
func playedCue(seed uint64, seconds int) []float64 {
	s := NewSynth(seed)
	var out []float64
	frame := make([]float32, Rate/20)
	last := stream.Act("")
	for i := range seconds * 20 {
		t := float64(i) / 20
		off := 20 * math.Cos(2*math.Pi*(t+float64(seed%7))/17)
		g := stream.Guidance{Act: stream.TurnOn, OffArcmin: &off, ToleranceArcmin: 0.5}
		switch phase := math.Mod(t, 15); {
		case phase < 3:
			g = stream.Guidance{Act: stream.TurnOn}
		case phase < 5:
			g = stream.Guidance{Act: stream.Edge}
		case phase > 14:
			g = stream.Guidance{Act: stream.HoldOn}
		}
		g.New, last = g.Act != last, g.Act
		s.Set(g)
		s.Render(frame)
		for _, v := range frame {
			out = append(out, float64(v))
		}
	}
	return out
}

// heardTape is the sum of both channels of a bench.
func heardTape(t testing.TB, p bench.Profile, seed uint64, seconds int) []float64 {
	t.Helper()
	b, err := bench.New(p, seed, nil)
	if err != nil {
		t.Fatal(err)
	}
	if b.Rate() != Rate {
		t.Fatalf("rate %d", b.Rate())
	}
	var out []float64
	for len(out) < seconds*Rate {
		block, err := b.Next(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		for i := range block.Left {
			out = append(out, block.Left[i]+block.Right[i])
		}
	}
	return out[:seconds*Rate]
}

const (
	leakDelay = Rate * 137 / 1000
	lagFrames = int(MostLagSeconds * Rate)
	winFrames = int(WindowSeconds * Rate)
)

// listen listens to a tape with a cue that leaks by each of leaksDB, and adds what came of it to
// all. Spectra add, so that each sound is transformed once.
func listen(played, tape []float64, leaksDB []float64, all []found) {
	detectors, after, best := make([]*Detector, len(leaksDB)), make([]float64, len(leaksDB)), make([]float64, len(leaksDB))
	for i := range detectors {
		detectors[i] = NewDetector(Rate, Rate)
	}
	d := detectors[0]
	heard := make([]complex128, (toHz-fromHz)*transformSeconds)
	for from := lagFrames; from+winFrames <= len(tape); from += winFrames {
		alone := spectrum(d.heard, tape[from:from+winFrames])
		leaked := spectrum(d.heard, played[from-leakDelay:from-leakDelay+winFrames])
		before := spectrum(d.played, played[from-lagFrames:from+winFrames])
		for i, db := range leaksDB {
			for k := range heard {
				heard[k] = alone[k] + complex(2*math.Pow(10, db/20), 0)*leaked[k] // in both channels
			}
			detectors[i].add(before, heard)
			best[i] = max(best[i], detectors[i].Score())
			if detectors[i].Hears() && after[i] == 0 {
				after[i] = float64(from+winFrames) / Rate
			}
		}
	}
	for i := range all {
		all[i].seeds++
		if after[i] > 0 {
			all[i].recognised++
		}
		all[i].slowest, all[i].greatest = max(all[i].slowest, after[i]), max(all[i].greatest, best[i])
	}
}

// tapes are what is heard beside the cue.
func tapes() map[string]func(*bench.Profile) {
	all := map[string]func(*bench.Profile){
		"tone":  func(p *bench.Profile) { p.Programme = bench.Tones(-10, 10000) },
		"tones": func(p *bench.Profile) { p.Programme = bench.Tones(-16, 315, 1000, 3150, 10000) },
		"music": func(p *bench.Profile) { p.Programme.Kind, p.Programme.MusicSeed = "music", 0 },
	}
	if material := os.Getenv("HEADTRUE_MATERIAL"); material != "" { // see testdata/README.md
		for _, name := range []string{"piece", "recording"} {
			all[name] = func(p *bench.Profile) {
				p.Programme.Kind, p.Programme.WAV, p.Programme.RandomStart = "wav", filepath.Join(material, name+".wav"), true
			}
		}
	}
	return all
}

// found is what listening to some seeds came to.
type found struct {
	seeds, recognised int
	slowest, greatest float64
}

// listenToSeeds returns what came of seconds of a tape, by leakage.
func listenToSeeds(t testing.TB, tape func(*bench.Profile), seeds uint64, seconds int, leaksDB []float64) []found {
	t.Helper()
	all := make([]found, len(leaksDB))
	for seed := uint64(1); seed <= seeds; seed++ {
		p := bench.Default()
		tape(&p)
		listen(playedCue(seed, seconds), heardTape(t, p, seed, seconds), leaksDB, all)
	}
	return all
}

// A cue that leaks at -40 dB or more into a tone or the built-in music is recognised within 24 s
// of sound; without a leak there is no false alarm. BenchmarkDetector has more seeds.
func TestDetector(t *testing.T) {
	leaks := []float64{math.Inf(-1), -20, -40}
	for _, name := range []string{"tone", "music"} {
		for i, f := range listenToSeeds(t, tapes()[name], 2, 26, leaks) {
			t.Logf("%-6s leak %4.0f dB: recognised in %d of %d, slowest %.0f s, greatest score %.0f", name, leaks[i], f.recognised, f.seeds, f.slowest, f.greatest)
			if want := f.seeds * min(i, 1); f.recognised != want {
				t.Errorf("%s, leak %.0f dB: recognised in %d of %d, want %d", name, leaks[i], f.recognised, f.seeds, want)
			}
		}
	}
}

// BenchmarkDetector prints how often and how soon a leaked cue is recognised in a minute of
// tape, and how often one that does not leak; HEADTRUE_SEEDS is the number of seeds, 40 if it
// is not set. With HEADTRUE_MATERIAL two of the recordings are among the tapes.
func BenchmarkDetector(b *testing.B) {
	seeds := uint64(40)
	if n, err := strconv.ParseUint(os.Getenv("HEADTRUE_SEEDS"), 10, 64); err == nil {
		seeds = n
	}
	leaks := []float64{math.Inf(-1), -20, -30, -40, -50}
	all := tapes()
	for range b.N {
		for _, name := range slices.Sorted(maps.Keys(all)) {
			for i, f := range listenToSeeds(b, all[name], seeds, 62, leaks) {
				fmt.Printf("%-9s leak %4.0f dB: recognised in %2d of %d, slowest %2.0f s, greatest score %3.0f of %d\n", name, leaks[i], f.recognised, f.seeds, f.slowest, f.greatest, threshold)
			}
		}
	}
}
