//go:build unix

package logbook

import (
	"bufio"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"headtrue/sweep/record"
)

func init() {
	roles["until-killed"] = writeUntilKilled
	roles["full-disk"] = writeToAFullDisk
}

// as starts the test binary as a process with a role at a place.
func (p place) as(role string) *exec.Cmd {
	cmd := exec.Command(os.Args[0], p.where, p.clips)
	cmd.Env = append(os.Environ(), roleVariable+"="+role)
	cmd.Stderr = os.Stderr
	return cmd
}

// stepsPerRun is small, so that kills hit the beginning, the end and the packing of a run
// as often as the time between two steps.
const stepsPerRun = 6

// writeUntilKilled records one run after the other and prints what was acknowledged: the
// run and the number of its entries.
func writeUntilKilled(p place) {
	book, err := Open(p.where, p.clips)
	for err == nil {
		var run *Run
		if run, err = book.Begin(record.Start{Command: "align"}); err != nil {
			break
		}
		fmt.Println(run.ID(), 1)
		for n := 1; n <= stepsPerRun; n++ {
			e := step(n)
			if n == stepsPerRun {
				e = end(record.Aligned)
			}
			if err = run.Append(e); err != nil {
				break
			}
			fmt.Println(run.ID(), n+1)
		}
		err = errors.Join(err, run.Close())
	}
	fmt.Fprintln(os.Stderr, err)
	os.Exit(1)
}

// A writer is killed after each number of acknowledged entries, repeatedly and at any
// moment after it: every acknowledged entry is there, the store opens, and a run that was
// cut off is distinguished from one being written.
func TestNothingAcknowledgedIsLostWhenTheWriterIsKilled(t *testing.T) {
	kills, leastRead := map[string]int{"sqlite": 208, "postgres": 52}, 20
	if testing.Short() {
		kills, leastRead = map[string]int{"sqlite": 13, "postgres": 7}, 4
	}
	onEach(t, func(t *testing.T, p place) {
		acknowledged := map[string]int{}
		running := false
		for i := range kills[strings.Split(t.Name(), "/")[1]] {
			writer := p.as("until-killed")
			out, err := writer.StdoutPipe()
			if err != nil {
				t.Fatal(err)
			}
			if err := writer.Start(); err != nil {
				t.Fatal(err)
			}
			lines := bufio.NewScanner(out)
			hear := func() bool {
				if !lines.Scan() {
					return false
				}
				run, n, _ := strings.Cut(lines.Text(), " ")
				acknowledged[run], _ = strconv.Atoi(n)
				return true
			}
			for range i * 5 % (2*stepsPerRun + 1) { // each number once in thirteen kills, and spread over fewer
				hear()
			}
			for tries := 0; tries < 100 && !running && len(acknowledged) > 0; tries++ {
				running = newest(t, p).Running // it may be between two runs now
			}
			time.Sleep(rand.N(3 * time.Millisecond))
			writer.Process.Kill()
			for hear() { // its output before it died
			}
			writer.Wait()
			if len(acknowledged) == 0 {
				continue // killed before any output
			}
			rec := newest(t, p)
			for until := time.Now().Add(5 * time.Second); rec.Running && time.Now().Before(until); { // a server detects it late
				rec = newest(t, p)
			}
			if rec.Running || len(rec.Entries) < acknowledged[rec.Run] || rec.End() == nil && len(rec.Entries) > stepsPerRun {
				t.Fatalf("kill %d: run %s has %d entries of %d acknowledged, running %v", i, rec.Run, len(rec.Entries), acknowledged[rec.Run], rec.Running)
			}
		}
		if !running {
			t.Error("while the writer lived its run did not count as running")
		}
		read := 0
		for rec, err := range p.open(t).Records(context.Background(), Filter{}) {
			if err != nil {
				t.Fatal(err)
			}
			if got, want := len(rec.Entries), acknowledged[rec.Run]; got < want || got > want+1 {
				t.Errorf("run %s: %d entries acknowledged, %d read back", rec.Run, want, got)
			}
			for i, e := range rec.Entries[1:] {
				if i+1 < stepsPerRun && e.Step.N != i+1 || i+1 == stepsPerRun && e.End == nil {
					t.Fatalf("run %s: entry %d is %+v", rec.Run, i+1, e)
				}
			}
			if acknowledged[rec.Run] > 0 {
				read++
			}
		}
		if read != len(acknowledged) || read < leastRead {
			t.Errorf("%d runs read back of %d acknowledged", read, len(acknowledged))
		}
	})
}

func newest(t *testing.T, p place) Record {
	t.Helper()
	book, err := Open(p.where, p.clips)
	if err != nil {
		t.Fatal(err)
	}
	defer book.Close()
	rec, err := book.Newest(Filter{})
	if err != nil {
		t.Fatal(err)
	}
	return rec
}

// fullDisk is the result of one writer at one step boundary.
type fullDisk struct {
	Refused, Readable, AfterRoom bool
	Err                          string
}

// writeToAFullDisk writes a run with no space left at each step boundary, and at its end
// and packing. A limit on the size of files makes writes fail midway, as a full disk
// does.
func writeToAFullDisk(p place) {
	signal.Ignore(syscall.SIGXFSZ)
	book, err := Open(p.where, p.clips)
	if err != nil {
		panic(err)
	}
	run, err := book.Begin(record.Start{})
	if err != nil {
		panic(err)
	}
	var met []fullDisk
	for n := 1; n <= 10; n++ {
		e := step(n)
		if n == 10 {
			e = end(record.Aligned)
		}
		var f fullDisk
		withoutRoom(p, func() {
			err := run.Append(e)
			f.Err = fmt.Sprint(err)
			f.Refused = err != nil && book.files().full(err)
			rec, err := book.Load(run.ID())
			f.Readable = err == nil && len(rec.Entries) == n
		})
		f.AfterRoom = run.Append(e) == nil
		met = append(met, f)
	}
	var f fullDisk
	withoutRoom(p, func() {
		err := run.Close()
		f.Err, f.Refused = fmt.Sprint(err), err != nil
		rec, err := book.Load(run.ID())
		f.Readable = err == nil && len(rec.Entries) == 11
	})
	f.AfterRoom = book.atomically(context.Background(), func(tx *sql.Tx) error { return pack(context.Background(), tx, run.id) }) == nil
	json.NewEncoder(os.Stdout).Encode(append(met, f))
}

func withoutRoom(p place, do func()) {
	var old syscall.Rlimit
	syscall.Getrlimit(syscall.RLIMIT_FSIZE, &old)
	limit := old
	if log, err := os.Stat(filepath.Join(p.where, sqliteFile+"-wal")); err == nil {
		limit.Cur = uint64(log.Size()) + 100
	}
	if err := syscall.Setrlimit(syscall.RLIMIT_FSIZE, &limit); err != nil {
		panic(err)
	}
	do()
	syscall.Setrlimit(syscall.RLIMIT_FSIZE, &old)
}

func TestAFullDiskIsToldAtEachStepAndNothingIsLost(t *testing.T) {
	p := place{where: t.TempDir()}
	out, err := p.as("full-disk").Output()
	if err != nil {
		t.Fatal(err)
	}
	var met []fullDisk
	if err := json.Unmarshal(out, &met); err != nil {
		t.Fatal(err)
	}
	for i, f := range met {
		if !f.Refused || !f.Readable || !f.AfterRoom {
			t.Errorf("boundary %d: %+v: want the save refused, the rest readable, and a save once there is room", i, f)
		}
	}
	if rec := newest(t, p); len(rec.Entries) != 11 || rec.End() == nil || len(met) != 11 {
		t.Errorf("%d entries, end %v; want 11 and an end", len(rec.Entries), rec.End())
	}
}

// The engine itself reports "full" if the file may not grow; a save may then be repeated,
// but not after a failed sync.
func TestOnlyALackOfRoomMayBeTriedAgain(t *testing.T) {
	p := place{where: t.TempDir()}
	book := p.open(t)
	run := begin(t, book, record.Start{})
	book.db.SetMaxOpenConns(1)
	if _, err := book.db.Exec("PRAGMA max_page_count = 1"); err != nil { // the present number
		t.Fatal(err)
	}
	var err error
	n := 1
	for ; err == nil && n < 1000; n++ {
		err = run.Append(step(n))
	}
	var s *sqlite.Error
	if !errors.As(err, &s) || s.Code() != sqlite3.SQLITE_FULL || !book.files().full(err) {
		t.Fatalf("after %d steps: %v, want that it is full", n, err)
	}
	if _, err := book.db.Exec("PRAGMA max_page_count = 100000"); err != nil {
		t.Fatal(err)
	}
	if err := run.Append(step(n - 1)); err != nil {
		t.Errorf("once there is room: %v", err)
	}
	if rec := newest(t, p); len(rec.Entries) != n {
		t.Errorf("%d entries, want %d", len(rec.Entries), n)
	}
}
