package logbook

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"

	"headtrue/sweep/record"
)

// Taken is the result of an import for a run.
type Taken string

// Results of an import.
const (
	Added Taken = "added"
	Grown Taken = "grown" // the logbook had only part of its entries
	Known Taken = "known" // the logbook had all of its entries
)

// Import adds a run recorded elsewhere, unchanged, in one transaction, if this program
// could have recorded it. If the logbook has the run already, Import adds the new
// entries: later ones, and remarks. If the two contradict each other, it adds nothing and
// returns ErrDiffers.
func (b *Book) Import(entries []record.Entry) (Taken, error) {
	if len(entries) > 0 && entries[0].Start != nil {
		if err := readable(entries[0].Start.Run, entries[0].Start.Version); err != nil {
			return "", err
		}
	}
	if err := record.ValidRun(entries); err != nil {
		return "", err
	}
	return b.take(entries)
}

// take is Import for entries already checked.
func (b *Book) take(entries []record.Entry) (Taken, error) {
	ctx, cancel := patient()
	defer cancel()
	if err := b.reach(ctx); err != nil {
		return "", err
	}
	run := entries[0].Start.Run
	err := b.sendWaiting(ctx, run)
	switch {
	case errors.Is(err, ErrRunning):
		return b.merge(run, entries)
	case err != nil:
		return "", fmt.Errorf("import run %s: %w", run, err)
	}
	err = b.atomically(ctx, func(tx *sql.Tx) error {
		id, err := insertRun(ctx, tx, entries[0])
		if err == nil {
			err = insertEntry(ctx, tx, id, 0, entries[0])
		}
		if err == nil {
			err = b.addEntries(ctx, tx, id, 1, entries[1:])
		}
		if err == nil {
			err = markImported(ctx, tx, id)
		}
		return err
	})
	switch {
	case errors.Is(err, errTaken):
		return b.merge(run, entries)
	case err != nil:
		return "", fmt.Errorf("import run %s: %w", run, err)
	}
	return Added, nil
}

// addEntries adds entries to a run from a number on, and packs it if it has ended.
func (b *Book) addEntries(ctx context.Context, tx *sql.Tx, id int64, n int, entries []record.Entry) error {
	ended := false
	for _, e := range entries {
		at, err := n, error(nil)
		if e.Note != nil {
			at, err = b.remarkAt(ctx, tx, id, n)
		}
		if err == nil {
			err = insertEntry(ctx, tx, id, at, e)
		}
		if err == nil {
			err = note(ctx, tx, id, e)
		}
		if err != nil {
			return err
		}
		if at == n {
			n++
		}
		ended = ended || e.End != nil
	}
	if ended {
		return pack(ctx, tx, id)
	}
	return nil
}

// merge adds the entries of a run that the logbook lacks.
func (b *Book) merge(run string, theirs []record.Entry) (Taken, error) {
	rec, err := b.Load(run)
	if err != nil {
		return "", err
	}
	more, err := further(rec.Entries, theirs)
	switch {
	case err != nil:
		return "", err
	case len(more) == 0:
		return Known, nil
	case rec.Running:
		return "", ErrRunning
	}
	ctx, cancel := patient()
	defer cancel()
	if err := b.sendWaiting(ctx, run); err != nil {
		return "", fmt.Errorf("import run %s: %w", run, err)
	}
	err = b.atomically(ctx, func(tx *sql.Tx) error {
		id, next, have, err := nextEntry(ctx, tx, run)
		if err == nil && have != len(rec.Entries) {
			err = errors.New("somebody else has added to it meanwhile")
		}
		if err != nil {
			return err
		}
		return b.addEntries(ctx, tx, id, next, more)
	})
	if err != nil {
		return "", fmt.Errorf("import run %s: %w", run, err)
	}
	return Grown, nil
}

// further returns the entries of theirs that ours lacks. Entries saved by the run itself
// must be equal up to the length of the shorter copy. Remarks, which anybody may have
// added to either copy, are counted separately.
func further(ours, theirs []record.Entry) (more []record.Entry, err error) {
	have, err := encodeAll(ours)
	if err != nil {
		return nil, err
	}
	get, err := encodeAll(theirs)
	if err != nil {
		return nil, err
	}
	var saved [][]byte
	remarks := map[string]int{}
	for i, e := range ours {
		if e.Note != nil {
			remarks[string(have[i])]++
		} else {
			saved = append(saved, have[i])
		}
	}
	for i, e := range theirs {
		switch text := get[i]; {
		case e.Note != nil && remarks[string(text)] > 0:
			remarks[string(text)]--
		case e.Note == nil && len(saved) > 0:
			if !bytes.Equal(saved[0], text) {
				return nil, fmt.Errorf("from entry %d on: %w", i, ErrDiffers)
			}
			saved = saved[1:]
		default:
			more = append(more, e)
		}
	}
	return more, nil
}

func encodeAll(entries []record.Entry) (all [][]byte, err error) {
	for _, e := range entries {
		text, err := encode(e)
		if err != nil {
			return nil, err
		}
		all = append(all, text)
	}
	return all, nil
}

// nextEntry locks the row of a run, so that two concurrent additions get different
// numbers. It returns the next number and the count of entries, remarks included.
func nextEntry(ctx context.Context, tx *sql.Tx, run string) (id int64, next, have int, err error) {
	if err := tx.QueryRowContext(ctx, "UPDATE runs SET format = format WHERE run = $1 RETURNING id", run).Scan(&id); err != nil {
		return 0, 0, 0, err
	}
	const packed = "COALESCE((SELECT entries FROM packs WHERE run = $1), 0)"
	err = tx.QueryRowContext(ctx, `SELECT COALESCE((SELECT max(n) + 1 FROM entries WHERE run = $1 AND n < $2), `+packed+`),
		`+packed+` + (SELECT count(*) FROM entries WHERE run = $1)`, id, remarksFrom).Scan(&next, &have)
	return id, next, have, err
}

// remarkAt returns the number of a remark on a run with the next entry next. On a server,
// entries still to come from another spool go before it.
func (b *Book) remarkAt(ctx context.Context, tx *sql.Tx, id int64, next int) (at int, err error) {
	if b.spool == nil {
		return next, nil
	}
	err = tx.QueryRowContext(ctx, `SELECT CASE WHEN EXISTS (SELECT 1 FROM packs WHERE run = $1) THEN $3
		ELSE COALESCE((SELECT max(n) + 1 FROM entries WHERE run = $1 AND n >= $2), $2) END`, id, remarksFrom, next).Scan(&at)
	return at, err
}

// Note adds a person's remark to a run that no process is writing.
func (b *Book) Note(run string, n record.Note) error {
	if n.Text == "" {
		return errors.New("a note needs words")
	}
	if b.onlyToRead {
		return ErrOnlyToRead
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
	if err := b.sendWaiting(ctx, run); err != nil {
		return fmt.Errorf("note on run %s: %w", run, err)
	}
	err = b.atomically(ctx, func(tx *sql.Tx) error {
		id, next, _, err := nextEntry(ctx, tx, run)
		if err == nil {
			next, err = b.remarkAt(ctx, tx, id, next)
		}
		if err != nil {
			return err
		}
		return insertEntry(ctx, tx, id, next, record.Entry{Kind: record.KindNote, At: b.stamp(), Note: &n})
	})
	if err != nil {
		return fmt.Errorf("note on run %s: %w", run, err)
	}
	return nil
}
