// Package logbook keeps the records of runs on disk.
//
// A logbook is a folder. Each run is one file in it, named after the run, with
// one JSON object per line (package record), and beside it the clips of sound
// the run kept. Lines are only ever added. What Append has acknowledged has
// been synced to the disk; a process that is killed in the middle of a line
// leaves a torn last line, which reading drops and tells. A file belongs to
// the process that began it: nobody opens it for writing again.
//
// The package owns names, times and durability. It does not know what a run
// means, and it does not draw or compute.
package logbook

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sort"
	"strings"
	"time"
)

// ErrEmpty says that the logbook holds no run.
var ErrEmpty = errors.New("the logbook holds no run yet")

// ErrNoRun says that the logbook does not hold the run asked for.
var ErrNoRun = errors.New("no such run in the logbook")

const (
	extension = ".jsonl"
	reserved  = ".new" // a run whose first line is not on the disk yet
)

// Book is a folder of runs.
type Book struct {
	dir string
	now func() time.Time
}

// Open makes the folder where it is missing and returns the logbook in it.
func Open(dir string) (*Book, error) {
	if dir == "" {
		return nil, errors.New("the logbook needs a folder")
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return nil, fmt.Errorf("open the logbook: %w", err)
	}
	return &Book{dir: dir, now: time.Now}, nil
}

// Dir is the folder of the logbook.
func (b *Book) Dir() string { return b.dir }

// Runs lists the names of all runs, oldest first. Names begin with the time in
// UTC, so their order is the order in which the runs began.
func (b *Book) Runs() ([]string, error) {
	files, err := os.ReadDir(b.dir)
	if err != nil {
		return nil, fmt.Errorf("list the logbook: %w", err)
	}
	var runs []string
	for _, f := range files {
		if name, ok := strings.CutSuffix(f.Name(), extension); ok && f.Type().IsRegular() {
			runs = append(runs, name)
		}
	}
	sort.Strings(runs)
	return runs, nil
}

// Load reads one run. It returns ErrNoRun where there is none of that name, a
// *NewerError where a newer program wrote it, and a *DamagedError where a line
// other than the last cannot be read.
func (b *Book) Load(run string) (Record, error) {
	if run == "" || filepath.Base(run) != run || strings.HasPrefix(run, ".") {
		return Record{}, fmt.Errorf("%q: %w", run, ErrNoRun)
	}
	rec, err := Read(b.path(run))
	if errors.Is(err, os.ErrNotExist) {
		return Record{}, fmt.Errorf("%q: %w", run, ErrNoRun)
	}
	return rec, err
}

// Newest returns the latest run that keep accepts; nil accepts all. Runs that
// cannot be read are passed over. It returns ErrEmpty where none is left.
func (b *Book) Newest(keep func(Record) bool) (Record, error) {
	runs, err := b.Runs()
	if err != nil {
		return Record{}, err
	}
	for i := len(runs) - 1; i >= 0; i-- {
		rec, err := b.Load(runs[i])
		if err == nil && (keep == nil || keep(rec)) {
			return rec, nil
		}
	}
	return Record{}, ErrEmpty
}

func (b *Book) path(run string) string { return filepath.Join(b.dir, run+extension) }
