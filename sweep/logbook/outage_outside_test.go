//go:build outside && linux

package logbook

import (
	"context"
	"net"
	"net/url"
	"path/filepath"
	"reflect"
	"strings"
	"sync"
	"testing"
	"time"

	"headtrue/sweep/logbook/postgrestest"
	"headtrue/sweep/record"
)

// Bounds on the delay of a run by the server: far below the patience of any operation on
// it, far above a save to the disk of a busy machine.
const (
	longestSave    = 2500 * time.Millisecond
	longestBetween = openingPatience + farewell + 3*time.Second // to open, and to close
	sentWithin     = 30 * time.Second
)

// outage is a run of several steps; before some of them the server is disturbed.
type outage struct {
	before map[int]func(*wire)
	after  func(*wire) // once the run is closed
	away   bool        // the server is not there from the beginning on
	long   bool        // left to the long tests
}

const outageSteps = 30

// wire is the server and the line to it, which passes bytes until it is cut or held.
type wire struct {
	t      *testing.T
	server *postgrestest.Server
	mu     sync.Mutex
	conns  []net.Conn
	held   bool // no byte passes, no connection ends: the cable is pulled
	more   *sync.Cond
}

func newWire(t *testing.T, server *postgrestest.Server) (w *wire, where string) {
	w = &wire{t: t, server: server}
	w.more = sync.NewCond(&w.mu)
	folder := t.TempDir()
	listener, err := net.Listen("unix", filepath.Join(folder, ".s.PGSQL.5432"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { listener.Close(); w.plug(); w.cut() })
	go func() { // ends with the listener
		for {
			conn, err := listener.Accept()
			if err != nil {
				return
			}
			w.join(conn)
		}
	}()
	base, _, _ := strings.Cut(server.Database(t), "?")
	return w, base + "?" + url.Values{"host": {folder}, "user": {"headtrue"}}.Encode()
}

func (w *wire) join(conn net.Conn) {
	to, err := net.Dial("unix", w.server.Socket())
	if err != nil {
		conn.Close()
		return
	}
	w.mu.Lock()
	w.conns = append(w.conns, conn, to)
	w.mu.Unlock()
	for _, way := range [][2]net.Conn{{conn, to}, {to, conn}} {
		go func() { // ends with either connection
			defer way[0].Close()
			defer way[1].Close()
			part := make([]byte, 4096)
			for {
				n, err := way[0].Read(part)
				w.mu.Lock()
				for w.held {
					w.more.Wait()
				}
				w.mu.Unlock()
				if err != nil {
					return
				}
				if _, err := way[1].Write(part[:n]); err != nil {
					return
				}
			}
		}()
	}
}

func (w *wire) cut() {
	w.mu.Lock()
	defer w.mu.Unlock()
	for _, c := range w.conns {
		c.Close()
	}
	w.conns = nil
}

func (w *wire) pull() {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.held = true
}

func (w *wire) plug() {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.held = false
	w.more.Broadcast()
}

var outages = map[string]outage{
	"nothing":               {long: true},
	"killed and restarted":  {before: map[int]func(*wire){5: func(w *wire) { w.server.Crash() }, 20: func(w *wire) { w.server.Up(w.t) }}, long: true},
	"killed until after it": {before: map[int]func(*wire){5: func(w *wire) { w.server.Crash() }}, after: func(w *wire) { w.server.Up(w.t) }, long: true},
	"never there":           {away: true, after: func(w *wire) { w.server.Up(w.t) }, long: true},
	"there in its middle":   {away: true, before: map[int]func(*wire){10: func(w *wire) { w.server.Up(w.t) }}, long: true},
	"frozen":                {before: map[int]func(*wire){5: func(w *wire) { w.server.Freeze() }, 20: func(w *wire) { w.server.Thaw() }}, long: true},
	"frozen until after it": {before: map[int]func(*wire){25: func(w *wire) { w.server.Freeze() }}, after: func(w *wire) { w.server.Thaw() }},
	"cable pulled":          {before: map[int]func(*wire){5: (*wire).pull, 20: (*wire).plug}},
	"cut again and again":   {before: cuts()},
}

func cuts() map[int]func(*wire) {
	all := map[int]func(*wire){}
	for n := 2; n <= outageSteps; n++ {
		all[n] = (*wire).cut
	}
	return all
}

// Whatever happens to the server, each entry is saved in time, and finally the server has
// each once, in order, as written.
func TestWhateverBecomesOfTheServerARunIsWholeAndNotDelayed(t *testing.T) {
	server := postgrestest.Start(t)
	for name, o := range outages {
		if o.long && testing.Short() {
			continue
		}
		t.Run(name, func(t *testing.T) {
			w, where := newWire(t, server)
			p := place{where, t.TempDir()}
			if o.away {
				server.Crash()
			}
			run, written := o.run(t, w, p)
			if o.after != nil {
				o.after(w)
			}
			awaitSent(t, p)
			// Another bench, without a spool of that run, reads the server's part.
			there := place{where, t.TempDir()}.open(t)
			rec, err := there.Load(run)
			if err != nil {
				t.Fatal(err)
			}
			if rec.Running {
				t.Error("the run counts as running")
			}
			for i := range max(len(written), len(rec.Entries)) {
				if i >= len(written) || i >= len(rec.Entries) || !reflect.DeepEqual(written[i], rec.Entries[i]) {
					t.Fatalf("entry %d of %d written and %d on the server is not the same", i, len(written), len(rec.Entries))
				}
			}
			var runs, single, packed int
			if err := there.db.QueryRow("SELECT (SELECT count(*) FROM runs), (SELECT count(*) FROM entries), (SELECT sum(entries) FROM packs)").Scan(&runs, &single, &packed); err != nil {
				t.Fatal(err)
			}
			if runs != 1 || single != 0 || packed != len(written) {
				t.Errorf("the server has %d runs, %d single entries, %d packed; want 1, 0, %d", runs, single, packed, len(written))
			}
			for s, err := range there.List(context.Background(), Filter{}) {
				if err != nil || s.Outcome != record.Aligned || s.TapeSeconds != 9+outageSteps || !s.FoundKnown {
					t.Errorf("listed as %+v, %v", s, err)
				}
			}
		})
	}
}

// run records a run and returns its entries, read back from the spool.
func (o outage) run(t *testing.T, w *wire, p place) (name string, written []record.Entry) {
	began := time.Now()
	within := func(what string, limit time.Duration) {
		t.Helper()
		if took := time.Since(began); took > limit {
			t.Errorf("%s took %v", what, took)
		}
	}
	book := p.open(t)
	if away := book.Away() != nil; away != o.away {
		t.Errorf("away: %v", book.Away())
	}
	run := begin(t, book, record.Start{Command: "align"})
	within("to open and begin", longestBetween)
	for n := 1; n <= outageSteps; n++ {
		if do := o.before[n]; do != nil {
			do(w)
		}
		e := step(n)
		switch n {
		case 1:
			e = record.Entry{Kind: record.KindFound, Found: &record.Found{Memory: "kept"}}
		case outageSteps:
			e = end(record.Aligned)
			e.TapeSeconds += outageSteps
		}
		began = time.Now()
		appendAll(t, run, e)
		within("a save", longestSave)
		time.Sleep(20 * time.Millisecond)
	}
	rec, err := book.spool.Load(run.ID())
	if err != nil || len(rec.Entries) != outageSteps+1 {
		t.Fatalf("%d entries in the spool, %v", len(rec.Entries), err)
	}
	began = time.Now()
	if err := run.Close(); err != nil {
		t.Error(err)
	}
	if err := book.Close(); err != nil {
		t.Error(err)
	}
	within("to close", longestBetween)
	return run.ID(), rec.Entries
}

// awaitSent opens the logbook repeatedly, as later commands do, until nothing waits.
func awaitSent(t *testing.T, p place) {
	t.Helper()
	for until := time.Now().Add(sentWithin); ; time.Sleep(100 * time.Millisecond) {
		book := p.open(t)
		n, _, err := book.Unsent()
		if err != nil {
			t.Fatal(err)
		}
		if err := book.Close(); err != nil {
			t.Fatal(err)
		}
		if n == 0 {
			return
		}
		if time.Now().After(until) {
			t.Fatalf("%d runs still wait for the server: %v", n, book.Away())
		}
	}
}

// A remark of another bench on a partly sent run is numbered after the entries still to
// be sent, and replaces none of them.
func TestARemarkOnAHalfSentRunComesAfterTheRest(t *testing.T) {
	server := postgrestest.Start(t)
	p := place{server.Database(t), t.TempDir()}
	book := p.open(t)
	run := begin(t, book, record.Start{Command: "align"})
	appendAll(t, run, step(1), step(2))
	other := place{p.where, t.TempDir()}
	for rec := (Record{}); len(rec.Entries) < 3; time.Sleep(50 * time.Millisecond) {
		rec, _ = other.open(t).Load(run.ID())
	}
	server.Crash()
	appendAll(t, run, step(3), end(record.Aligned))
	if err := run.Close(); err != nil {
		t.Fatal(err)
	}
	server.Up(t)
	if err := other.open(t).Note(run.ID(), record.Note{By: "k", Text: "the cable was off"}); err != nil {
		t.Fatal(err)
	}
	awaitSent(t, p)
	rec, err := other.open(t).Load(run.ID())
	if err != nil || len(rec.Entries) != 6 || rec.Entries[3].Step == nil || rec.Entries[4].End == nil || rec.Entries[5].Note == nil {
		t.Errorf("%v: the run reads %+v", err, rec.Entries)
	}
}
