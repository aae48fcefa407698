//go:build outside && linux

package logbook

import (
	"bufio"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"headtrue/sweep/logbook/postgrestest"
	"headtrue/sweep/record"
)

func init() {
	for role, s := range shares {
		roles[role] = s.write
	}
}

// Benches that share a logbook, and the time between two steps of each: as fast as a
// quick run saves.
const (
	benches   = 20
	stepEvery = 200 * time.Millisecond
)

// shareOf is the work of each bench.
type shareOf struct{ runs, steps int }

var shares = map[string]shareOf{"bench": {2, 20}, "bench for a moment": {1, 10}}

// share returns the role of the benches in this run of the tests.
func share() string {
	if testing.Short() {
		return "bench for a moment"
	}
	return "bench"
}

// write records the runs of a bench and prints how long each save took, in ms.
func (s shareOf) write(p place) {
	book, err := Open(p.where, p.clips)
	if err != nil {
		panic(err)
	}
	var took []float64
	for range s.runs {
		run, err := book.Begin(record.Start{Command: "align", Unit: fmt.Sprint(os.Getpid())})
		if err != nil {
			panic(err)
		}
		for n := 1; n <= s.steps; n++ {
			began := time.Now()
			if err := run.Append(step(n)); err != nil {
				panic(err)
			}
			took = append(took, time.Since(began).Seconds()*1000)
			time.Sleep(max(0, stepEvery-time.Since(began)))
		}
		if err := run.Append(end(record.Aligned)); err != nil {
			panic(err)
		}
		if err := run.Close(); err != nil {
			panic(err)
		}
	}
	for _, ms := range took {
		fmt.Println(ms)
	}
}

// shared lets all benches record at once and returns the times of their saves, ms.
func shared(t testing.TB, p place) []float64 {
	var all []float64
	var writers []*exec.Cmd
	var outs []*bufio.Scanner
	for i := range benches {
		own := p
		if IsServer(p.where) {
			own.clips = filepath.Join(p.clips, strconv.Itoa(i)) // each bench has a folder of its own
		}
		w := own.as(share())
		out, err := w.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := w.Start(); err != nil {
			t.Fatal(err)
		}
		writers, outs = append(writers, w), append(outs, bufio.NewScanner(out))
	}
	for i, w := range writers {
		for outs[i].Scan() {
			ms, err := strconv.ParseFloat(outs[i].Text(), 64)
			if err != nil {
				t.Fatal(err)
			}
			all = append(all, ms)
		}
		if err := w.Wait(); err != nil {
			t.Fatalf("bench %d: %v", i, err)
		}
	}
	return all
}

// Twenty benches, each a process, write to one logbook: every run is there, complete.
func TestTwentyBenchesShareALogbook(t *testing.T) {
	onEach(t, func(t *testing.T, p place) {
		each := shares[share()]
		saves := sorted(shared(t, p))
		t.Logf("%d saves: median %.1f ms, 99 %% %.1f ms, longest %.1f ms", len(saves), saves[len(saves)/2], saves[len(saves)*99/100], saves[len(saves)-1])
		runs := map[string]int{}
		for rec, err := range p.open(t).Records(context.Background(), Filter{}) {
			if err != nil {
				t.Fatal(err)
			}
			for i, e := range rec.Entries[1:] {
				if i < each.steps && e.Step.N != i+1 {
					t.Fatalf("run %s: entry %d is %+v", rec.Run, i+1, e)
				}
			}
			if len(rec.Entries) != each.steps+2 || rec.End() == nil {
				t.Errorf("run %s has %d entries, end %v", rec.Run, len(rec.Entries), rec.End())
			}
			runs[rec.Start().Unit]++
		}
		for unit, n := range runs {
			if n != each.runs {
				t.Errorf("bench %s: %d runs", unit, n)
			}
		}
		if len(runs) != benches || len(saves) != benches*each.runs*each.steps {
			t.Errorf("%d benches, %d saves", len(runs), len(saves))
		}
	})
}

// BenchmarkShared prints the times of saves when twenty benches share a logbook.
func BenchmarkShared(b *testing.B) {
	places := map[string]place{"SQLite": {where: b.TempDir()}, "PostgreSQL": {postgrestest.Start(b).Database(b), b.TempDir()}}
	for range b.N {
		fmt.Printf("\n%d benches, each a process, a step every %v: ms for a save\n%-12s %8s %8s %8s %9s\n", benches, stepEvery, "", "median", "99 %", "longest", "over 100")
		for name, p := range places {
			saves := sorted(shared(b, p))
			under, _ := slices.BinarySearch(saves, 100)
			fmt.Printf("%-12s %8.1f %8.1f %8.1f %9d\n", name, saves[len(saves)/2], saves[len(saves)*99/100], saves[len(saves)-1], len(saves)-under)
		}
	}
}

// Debian's sqlite3 opens the file, finds it intact, and reads its content.
func TestSQLiteProgramOpensTheFile(t *testing.T) {
	p := place{where: t.TempDir()}
	book := p.open(t)
	run := begin(t, book, record.Start{Command: "align", Unit: "D-104"})
	appendAll(t, run, step(1), step(2), end(record.Aligned))
	open := begin(t, book, record.Start{Command: "align", Unit: "D-105"})
	appendAll(t, open, step(1))
	if err := run.Close(); err != nil {
		t.Fatal(err)
	}
	said, err := exec.Command("sqlite3", "-batch", filepath.Join(p.where, sqliteFile), `PRAGMA integrity_check; PRAGMA foreign_key_check;
		SELECT unit, command, outcome, tape_s FROM runs WHERE unit = 'D-104';
		SELECT unit, n, json_extract(body, '$.step.screw_deg') FROM entries JOIN runs ON id = entries.run WHERE n = 1;
		SELECT entries FROM packs`).CombinedOutput()
	if want := "ok\nD-104|align|aligned|9.0\nD-105|1|7.5\n4\n"; err != nil || strings.TrimSpace(string(said)) != strings.TrimSpace(want) {
		t.Errorf("%v: sqlite3 says\n%s\nwant\n%s", err, said, want)
	}
}
