package logbook

import (
	"bytes"
	"cmp"
	"database/sql"
	"errors"
	"fmt"

	"headtrue/sweep/record"
)

// ErrDiffers is returned for a run that the logbook has already, with other entries.
var ErrDiffers = errors.New("the logbook has another run of that name")

// Import adds a run that was recorded elsewhere, as it is, in one transaction. It
// says no where the logbook has that very run already.
func (b *Book) Import(entries []record.Entry) (added bool, err error) {
	if len(entries) == 0 || entries[0].Start == nil {
		return false, errors.New("a run begins with a start entry")
	}
	start := entries[0].Start
	if err := readable(start.Run, start.Version); err != nil {
		return false, err
	}
	ctx, cancel := patient()
	defer cancel()
	if err := b.reach(ctx); err != nil {
		return false, err
	}
	var id int64
	ended := false
	err = b.atomically(ctx, func(tx *sql.Tx) (err error) {
		if id, err = insertRun(ctx, tx, entries[0]); errors.Is(err, sql.ErrNoRows) {
			return errTaken
		}
		for n, e := range entries {
			if err == nil {
				err = insertEntry(ctx, tx, id, n, e)
			}
			if err == nil && n > 0 {
				err = note(ctx, tx, id, e)
			}
			ended = ended || e.End != nil
		}
		if err == nil && ended {
			err = pack(ctx, tx, id)
		}
		return cmp.Or(err, markImported(ctx, tx, id))
	})
	switch {
	case errors.Is(err, errTaken):
		return false, b.same(entries)
	case err != nil:
		return false, fmt.Errorf("import run %s: %w", start.Run, err)
	}
	return true, nil
}

// same is nil where the logbook has the run with the same entries.
func (b *Book) same(entries []record.Entry) error {
	run := entries[0].Start.Run
	rec, err := b.Load(run)
	if err != nil {
		return err
	}
	differ := len(rec.Entries) != len(entries)
	for i := 0; i < len(entries) && !differ; i++ {
		ours, err1 := encode(rec.Entries[i])
		theirs, err2 := encode(entries[i])
		if err := errors.Join(err1, err2); err != nil {
			return err
		}
		differ = !bytes.Equal(ours, theirs)
	}
	if differ {
		return fmt.Errorf("run %s: %w", run, ErrDiffers)
	}
	return nil
}

// ErrRunning is returned for a run that is still being written.
var ErrRunning = errors.New("it is still being written")

// Note adds a person's remark to a run that is not being written any more.
func (b *Book) Note(run string, n record.Note) error {
	if n.Text == "" {
		return errors.New("a note needs words")
	}
	rec, err := b.Load(run)
	if err != nil {
		return err
	}
	if rec.Running {
		return fmt.Errorf("note on run %s: %w", run, ErrRunning)
	}
	ctx, cancel := patient()
	defer cancel()
	if err := b.reach(ctx); err != nil {
		return fmt.Errorf("note on run %s: %w", run, err)
	}
	err = b.atomically(ctx, func(tx *sql.Tx) error {
		// The row of the run is held, so that two notes at once get two numbers.
		var id int64
		if err := tx.QueryRowContext(ctx, "UPDATE runs SET format = format WHERE run = $1 RETURNING id", run).Scan(&id); errors.Is(err, sql.ErrNoRows) && b.spool != nil {
			return errors.New("it has not been sent to the server yet")
		} else if err != nil {
			return err
		}
		var next int
		if err := tx.QueryRowContext(ctx, `SELECT COALESCE((SELECT max(n) + 1 FROM entries WHERE run = $1),
			(SELECT entries FROM packs WHERE run = $1))`, id).Scan(&next); err != nil {
			return err
		}
		if b.spool != nil {
			packed := false
			if err := tx.QueryRowContext(ctx, "SELECT EXISTS (SELECT 1 FROM packs WHERE run = $1)", id).Scan(&packed); err != nil {
				return err
			}
			if !packed {
				next = max(next, remarksFrom)
			}
		}
		return insertEntry(ctx, tx, id, next, record.Entry{Kind: record.KindNote, At: b.stamp(), Note: &n})
	})
	if err != nil {
		return fmt.Errorf("note on run %s: %w", run, err)
	}
	return nil
}
