package logbook

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"slices"

	"headtrue/sweep/record"
)

// Record is a run as read back.
type Record struct {
	Run     string
	Entries []record.Entry
	// Running reports that a process still has the run open. It is never set on systems
	// without file locks.
	Running bool
}

// DamagedError names a run that cannot be read.
type DamagedError struct {
	Run string
	Err error
}

func (e *DamagedError) Error() string { return fmt.Sprintf("run %s cannot be read: %v", e.Run, e.Err) }

func (e *DamagedError) Unwrap() error { return e.Err }

// Load reads one run. It returns ErrNoRun if no run has that name, a *NewerError if a
// newer program wrote it, and a *DamagedError if it cannot be read.
func (b *Book) Load(run string) (Record, error) {
	if b.spool != nil {
		if rec, done, err := b.loadSpooled(run); done {
			return rec, err
		}
	}
	ctx, cancel := patient()
	defer cancel()
	return b.loadNamed(ctx, run)
}

// loadNamed is Load without the spool.
func (b *Book) loadNamed(ctx context.Context, run string) (Record, error) {
	var id int64
	var format int
	var outcome string
	err := b.db.QueryRowContext(ctx, "SELECT id, format, outcome FROM runs WHERE run = $1", run).Scan(&id, &format, &outcome)
	if errors.Is(err, sql.ErrNoRows) {
		return Record{}, fmt.Errorf("%q: %w", run, ErrNoRun)
	}
	if err != nil {
		return Record{}, fmt.Errorf("read run %s: %w", run, err)
	}
	rec, err := b.load(ctx, run, id, format)
	if err != nil || outcome != "" {
		return rec, err
	}
	if rec.Running, err = b.engine.held(ctx, run, id); err != nil {
		return rec, fmt.Errorf("ask whether run %s is still being written: %w", run, err)
	}
	return rec, nil
}

func (b *Book) load(ctx context.Context, run string, id int64, format int) (Record, error) {
	rec := Record{Run: run}
	if err := readable(run, format); err != nil {
		return rec, err
	}
	all, err := lines(ctx, b.db, id)
	switch {
	case errors.Is(err, errDamaged):
		return rec, &DamagedError{run, err}
	case err != nil:
		return rec, fmt.Errorf("read run %s: %w", run, err)
	}
	for i, line := range all {
		var e record.Entry
		if err := json.Unmarshal(line, &e); err != nil {
			return rec, &DamagedError{run, fmt.Errorf("entry %d: %w", i, err)}
		}
		rec.Entries = append(rec.Entries, e)
	}
	if rec.Start() == nil {
		return rec, &DamagedError{run, errors.New("it does not begin with a start entry")}
	}
	return rec, nil
}

// Start returns the start in the first entry, or nil.
func (r Record) Start() *record.Start {
	if len(r.Entries) == 0 {
		return nil
	}
	return r.Entries[0].Start
}

// last returns the last value for which pick is not nil, or nil.
func last[T any](r Record, pick func(record.Entry) *T) *T {
	for i := len(r.Entries) - 1; i >= 0; i-- {
		if x := pick(r.Entries[i]); x != nil {
			return x
		}
	}
	return nil
}

// Found returns the last state as found: it is saved before the blade is seated and again
// after that.
func (r Record) Found() *record.Found {
	return last(r, func(e record.Entry) *record.Found { return e.Found })
}

// Decision returns the last decision, or nil.
func (r Record) Decision() *record.Decision {
	return last(r, func(e record.Entry) *record.Decision { return e.Decision })
}

// Left returns the last state as left, nil if the run ended earlier.
func (r Record) Left() *record.Left {
	return last(r, func(e record.Entry) *record.Left { return e.Left })
}

// End returns the end of the run, nil if it was cut off.
func (r Record) End() *record.End {
	return last(r, func(e record.Entry) *record.End { return e.End })
}

// TapeSeconds returns the seconds of sound that the run used.
func (r Record) TapeSeconds() (s float64) {
	for _, e := range r.Entries {
		if e.TapeSeconds > 0 { // they begin anew after the ready step
			s = e.TapeSeconds
		}
	}
	return s
}

// loadSpooled reads a run from the spool if the server lacks a part of it or is away;
// done reports whether it did.
func (b *Book) loadSpooled(run string) (rec Record, done bool, err error) {
	ctx, cancel := patient()
	defer cancel()
	names, _, err := b.spool.unsent(ctx)
	if err != nil {
		return rec, true, err
	}
	away := error(nil)
	if !slices.Contains(names, run) {
		if away = b.reach(ctx); away == nil {
			return rec, false, nil
		}
	}
	rec, err = b.spool.Load(run)
	if errors.Is(err, ErrNoRun) && away != nil {
		err = away
	}
	return rec, true, err
}

// valid returns the faults in the entries of a readable run.
func (r Record) valid() error {
	if r.Start().Run != r.Run {
		return fmt.Errorf("its start is that of run %.80q", r.Start().Run)
	}
	return record.ValidRun(r.Entries)
}

// Clips returns the clips of a run.
func (r Record) Clips() (clips []record.Clip) {
	for _, e := range r.Entries {
		if e.Clip != nil {
			clips = append(clips, *e.Clip)
		}
	}
	return clips
}

// prunedBy signs the note on a run whose clips were removed.
const prunedBy = "headtrue logbook prune"

func (r Record) clipsPruned() bool {
	return last(r, func(e record.Entry) *record.Note {
		if e.Note != nil && e.Note.By == prunedBy {
			return e.Note
		}
		return nil
	}) != nil
}
