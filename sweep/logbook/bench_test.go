package logbook

import (
	"context"
	"database/sql"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"headtrue/sweep/record"
)

// generatedSteps is the number of steps of a generated run.
const generatedSteps = 30

// A logbook of generated runs, one every five minutes: HEADTRUE_RUNS of them, by default
// 1,000,000. Their rows are all different; the packed entries are those of distinctPacks
// runs, repeated, since making each anew would take hours. HEADTRUE_LOGBOOK_KEPT keeps
// the file for the next time.
const distinctPacks = 500

func generatedRuns() int {
	if n, err := strconv.Atoi(os.Getenv("HEADTRUE_RUNS")); err == nil {
		return n
	}
	return 1_000_000
}

// generated is a run with figures as random as measured ones, so that it packs as those
// do.
func generated(r *rand.Rand, n int) []record.Entry {
	at := begun.Add(time.Duration(n) * 5 * time.Minute)
	stamp := func(s float64) string {
		return at.Add(time.Duration(s * 1e9)).Format("2006-01-02T15:04:05.000Z")
	}
	reading := func() record.Reading {
		noise := func(x, by float64) float64 { return x + by*r.NormFloat64() }
		var bands [2][7]float64
		for c := range bands {
			for b := range bands[c] {
				bands[c][b] = noise(-40, 3)
			}
		}
		return record.Reading{Seconds: 0.8, LevelDBFS: [2]float64{noise(-20, 1), noise(-20, 1)}, TrebleDB: noise(-20, 4),
			TrebleLR: [2]float64{noise(-20, 4), noise(-20, 4)}, TrebleSDDB: noise(0.4, 0.02), ThirdsDBFS: &bands, DelayUS: noise(0, 60),
			DelaySDUS: noise(4, 0.5), DelayNoiseSDUS: noise(0.2, 0.01), DelayTrackedUS: noise(0, 60), PhaseDeg10k: noise(0, 90),
			TiltArcmin: noise(0, 10), Coherence: r.Float64(), PhaseMisfit: noise(1, 0.1), Usable: true}
	}
	off, left := 20*r.NormFloat64(), 0.5*r.NormFloat64()
	warm, damp := 20+r.NormFloat64(), 45+5*r.NormFloat64()
	found, seated, verified, released := reading(), reading(), reading(), reading()
	entries := []record.Entry{
		{Kind: record.KindStart, Start: &record.Start{Version: record.Version, Run: fmt.Sprintf("%s-%07d", at.Format("20060102T150405Z"), n),
			Command: "align", Program: "headtrue v1.0.0", Unit: fmt.Sprintf("D-%d", r.IntN(2000)), Head: "replay", Job: fmt.Sprintf("J-%d", n/5),
			Tape: fmt.Sprintf("T-%d", r.IntN(4)), Operator: fmt.Sprintf("op %d", r.IntN(8)), Port: "/dev/ttyACM0", Audio: "pulse:",
			Ambient: &record.Ambient{TemperatureC: &warm, HumidityPercent: &damp, From: "given"}, Cautions: record.Cautions{Asked: true, Answer: "yes"},
			Settings: map[string]string{"within_arcmin": "1", "window_deg": "120", "dull_db": "6", "tone_hz": "0", "jig.profile": "direct",
				"deck.profile": "m2.5", "channel_delay_us": "0", "channel_delay_sd_us": "5.8", "to": "tape", "proof_seconds": "4"}}},
		{Kind: record.KindFound, Found: &record.Found{PositionMicrosteps: r.Int32N(1e6), Epoch: 3, BootCount: 17, Memory: "kept", MicrostepsPerTurn: 3200,
			BladeOff: &found, Seated: &seated, Clip: "as-found.wav"}},
	}
	for i := range generatedSteps {
		entries = append(entries, record.Entry{Kind: record.KindStep, TapeSeconds: 10 + float64(i)*1.1,
			Step: &record.Step{N: i + 1, Phase: "refine", AtSeconds: 10 + float64(i)*1.1, ScrewDeg: float64(r.IntN(1000)) * 0.1125, FromHome: true, Reading: reading()}})
	}
	entries = append(entries,
		record.Entry{Kind: record.KindDecision, Decision: &record.Decision{LowEdgeDeg: -40 + r.Float64(), HighEdgeDeg: 40 + r.Float64(), DullDB: 6,
			Optimum: record.Estimate{Deg: r.NormFloat64(), SDArcmin: 0.5 + 0.1*r.Float64(), OK: true}, Agreement: "agree", GearingArcminPerTurn: 150 + r.NormFloat64(),
			GearingSDArcminPerTurn: 3, FoundOffArcmin: &off, FoundOffSDArcmin: 0.6, BacklashDeg: 12 + r.NormFloat64(), BacklashSDDeg: 1}},
		record.Entry{Kind: record.KindLeft, Left: &record.Left{ScrewDeg: r.NormFloat64(), Verified: &verified, Released: &released, OffArcmin: &left, OffSDArcmin: 0.4, TravelDeg: 500}},
		record.Entry{Kind: record.KindEnd, TapeSeconds: 45, End: &record.End{Outcome: []record.Outcome{record.Aligned, record.Aligned, record.Aligned, record.LessCertain, record.NoTreble}[r.IntN(5)],
			Say: "the head is set", ScrewCertain: true}})
	for i := range entries {
		entries[i].At = stamp(float64(i))
	}
	return entries
}

// fill adds generated runs in large transactions.
func fill(b testing.TB, book *Book, runs int) {
	ctx := context.Background()
	r := rand.New(rand.NewPCG(7, 7))
	var ids []int64
	var packs [][]byte
	for from := 0; from < runs; from += 5000 {
		err := book.atomically(ctx, func(tx *sql.Tx) error {
			for n := from; n < min(from+5000, runs); n++ {
				entries := generated(r, n)
				id, err := insertRun(ctx, tx, entries[0])
				if err != nil {
					return err
				}
				for _, e := range entries[1:] {
					if e.Step == nil {
						if err := note(ctx, tx, id, e); err != nil {
							return err
						}
					}
				}
				if ids = append(ids, id); n < distinctPacks {
					for i, e := range entries {
						if err := insertEntry(ctx, tx, id, i, e); err != nil {
							return err
						}
					}
					if err := pack(ctx, tx, id); err != nil {
						return err
					}
					var body []byte
					if err := tx.QueryRowContext(ctx, "SELECT body FROM packs WHERE run = $1", id).Scan(&body); err != nil {
						return err
					}
					packs = append(packs, body)
					continue
				}
				if _, err := tx.ExecContext(ctx, "INSERT INTO packs (run, entries, body) VALUES ($1, $2, $3)", id, len(entries), packs[n%distinctPacks]); err != nil {
					return err
				}
			}
			return nil
		})
		if err != nil {
			b.Fatal(err)
		}
	}
}

// large returns a logbook of generated runs in a folder.
func large(b testing.TB) (p place, runs int) {
	runs = generatedRuns()
	p = place{where: os.Getenv("HEADTRUE_LOGBOOK_KEPT")}
	if p.where == "" {
		p.where = b.TempDir()
	}
	book := p.open(b)
	defer book.Close()
	var have int
	if err := book.db.QueryRow("SELECT count(*) FROM runs").Scan(&have); err != nil {
		b.Fatal(err)
	}
	if have == 0 {
		began := time.Now()
		fill(b, book, runs)
		fmt.Printf("filled in %.0f s\n", time.Since(began).Seconds())
		have = runs
	}
	return p, have
}

// median returns the median time of several tries, in milliseconds.
func median(b testing.TB, tries int, do func(i int) error) float64 {
	b.Helper()
	times := make([]float64, tries)
	for i := range times {
		began := time.Now()
		if err := do(i); err != nil {
			b.Fatal(err)
		}
		times[i] = time.Since(began).Seconds() * 1000
	}
	return sorted(times)[tries/2]
}

// BenchmarkLogbook prints the times of a large logbook for operations that people wait
// for, and, if Debian's sqlite3 is installed, the times of that program for the same, its
// start included.
func BenchmarkLogbook(b *testing.B) {
	for range b.N {
		p, runs := large(b)
		ctx := context.Background()
		book := p.open(b)
		size := fileSize(b, filepath.Join(p.where, sqliteFile))
		fmt.Printf("\n%d runs of %d steps: %.2f KB each on the disk\n%-46s %10s %12s\n", runs, generatedSteps, size/float64(runs)/1000, "", "ms, median", "sqlite3, ms")
		line := func(name, plain string, tries int, do func(i int) error) {
			ms := median(b, tries, do)
			other := "-"
			if plain != "" {
				other = plainly(b, p, plain)
			}
			fmt.Printf("%-46s %10.2f %12s\n", name, ms, other)
		}
		walk := func(f Filter) func(int) error {
			return func(i int) error {
				n := 0
				for _, err := range book.List(ctx, f) {
					if err != nil {
						return err
					}
					n++
				}
				if n == 0 {
					return fmt.Errorf("%+v picks nothing", f)
				}
				return nil
			}
		}
		line("open and close", "SELECT 1", 9, func(int) error {
			again, err := Open(p.where, "")
			if err != nil {
				return err
			}
			return again.Close()
		})
		columns := "SELECT " + summaryColumns + " FROM runs "
		line("list the newest 50", columns+"ORDER BY begun_ms DESC, id DESC LIMIT 50", 21, walk(Filter{Limit: 50}))
		line("list all of one unit", columns+"WHERE unit = 'D-77' ORDER BY begun_ms DESC, id DESC", 21, walk(Filter{Unit: "D-77"}))
		line("list one job", columns+"WHERE job = 'J-77' ORDER BY begun_ms DESC, id DESC", 21, walk(Filter{Job: "J-77"}))
		line("list the newest 50 with one outcome", columns+"WHERE outcome = 'no-treble' ORDER BY begun_ms DESC, id DESC LIMIT 50", 21,
			walk(Filter{Outcome: record.NoTreble, Limit: 50}))
		line("list 50 of one operator in a month", columns+fmt.Sprintf("WHERE operator = 'op 3' AND begun_ms >= %d AND begun_ms < %d ORDER BY begun_ms DESC, id DESC LIMIT 50",
			begun.UnixMilli(), begun.AddDate(0, 1, 0).UnixMilli()), 21, walk(Filter{Operator: "op 3", Since: begun, Until: begun.AddDate(0, 1, 0), Limit: 50}))
		year := Filter{Since: begun, Until: begun.AddDate(1, 0, 0), OldestFirst: true}
		line("a year's rows, for a chart", columns+fmt.Sprintf("WHERE begun_ms >= %d AND begun_ms < %d ORDER BY begun_ms, id", begun.UnixMilli(), begun.AddDate(1, 0, 0).UnixMilli()), 5, walk(year))
		var names []string
		for s := range book.List(ctx, Filter{OldestFirst: true, Limit: 1000}) {
			names = append(names, s.Run)
		}
		line("one record, whole", "SELECT body FROM packs WHERE run = 77", 101, func(i int) error { _, err := book.Load(names[i*7%len(names)]); return err })
		run := begin(b, book, record.Start{Command: "align"})
		steps := generated(rand.New(rand.NewPCG(1, 1)), 0)
		line("save a step, on the disk", "", 201, func(i int) error { return run.Append(steps[2+i%generatedSteps]) })
		fmt.Printf("%-46s %10.2f\n", "  of that a write and sync of as much", plainSync(b, p))
		run.Close()
	}
}

func fileSize(b testing.TB, path string) float64 {
	info, err := os.Stat(path)
	if err != nil {
		b.Fatal(err)
	}
	return float64(info.Size())
}

// plainly returns the time of Debian's sqlite3 for an order, milliseconds.
func plainly(b testing.TB, p place, order string) string {
	if _, err := exec.LookPath("sqlite3"); err != nil {
		return "-"
	}
	return fmt.Sprintf("%.2f", median(b, 5, func(int) error {
		return exec.Command("sqlite3", filepath.Join(p.where, sqliteFile), order).Run()
	}))
}

// plainSync returns the time to write the bytes of a step durably to the disk.
func plainSync(b testing.TB, p place) float64 {
	file, err := os.Create(filepath.Join(p.where, "plain"))
	if err != nil {
		b.Fatal(err)
	}
	defer os.Remove(file.Name())
	defer file.Close()
	return median(b, 101, func(int) error {
		if _, err := file.Write(make([]byte, 4096)); err != nil {
			return err
		}
		return file.Sync()
	})
}
