package logbook

import (
	"context"
	"errors"
	"slices"
	"testing"
	"time"

	"headtrue/sweep/record"
)

// place is the place of a test's logbook: the arguments of Open.
type place struct{ where, clips string }

// engines make new places, by the name of the engine. PostgreSQL adds itself if a server
// is available (build tag outside).
var engines = map[string]func(t testing.TB) place{
	"sqlite": func(t testing.TB) place { return place{where: t.TempDir()} },
}

// onEach runs a test on each engine.
func onEach(t *testing.T, do func(t *testing.T, p place)) {
	for name, at := range engines {
		t.Run(name, func(t *testing.T) { do(t, at(t)) })
	}
}

func (p place) open(t testing.TB) *Book {
	t.Helper()
	book, err := Open(p.where, p.clips)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { book.Close() })
	if errors.Is(book.Away(), context.DeadlineExceeded) { // the machine is busy: the tests read the tables
		book.link.at = time.Time{}
		ctx, cancel := patient()
		defer cancel()
		if err := book.reach(ctx); err != nil {
			t.Log(err)
		}
	}
	return book
}

// begun is the default beginning of the tests' runs.
var begun = time.Date(2024, 5, 6, 7, 8, 9, 123e6, time.UTC)

func (p place) openAt(t testing.TB, at time.Time) *Book {
	book := p.open(t)
	book.now = func() time.Time { return at }
	return book
}

func begin(t testing.TB, book *Book, start record.Start) *Run {
	t.Helper()
	run, err := book.Begin(start)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { run.Close() })
	return run
}

func appendAll(t testing.TB, run *Run, entries ...record.Entry) {
	t.Helper()
	for _, e := range entries {
		if err := run.Append(e); err != nil {
			t.Fatal(err)
		}
	}
}

func step(n int) record.Entry {
	return record.Entry{Kind: record.KindStep, TapeSeconds: float64(n) / 2,
		Step: &record.Step{N: n, Phase: "bracket", ScrewDeg: 7.5 * float64(n), FromHome: true}}
}

func end(outcome record.Outcome) record.Entry {
	return record.Entry{Kind: record.KindEnd, TapeSeconds: 9, End: &record.End{Outcome: outcome, Say: "so"}}
}

func sorted(xs []float64) []float64 {
	slices.Sort(xs)
	return xs
}
