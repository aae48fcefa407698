package logbook

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"
)

// markImported marks a run as recorded elsewhere: it is no evidence of the state of this
// bench.
func markImported(ctx context.Context, tx *sql.Tx, id int64) error {
	_, err := tx.ExecContext(ctx, "UPDATE runs SET imported = 1 WHERE id = $1", id)
	return err
}

// Imported reports whether a run was recorded elsewhere; the spool's runs were not.
func (b *Book) Imported(run string) (bool, error) {
	ctx, cancel := patient()
	defer cancel()
	if b.spool != nil {
		_, written, err := b.spool.written(ctx, "")
		if _, here := written[run]; here || err != nil {
			return false, err
		}
		if err := b.reach(ctx); err != nil {
			return false, err
		}
	}
	var imported int
	err := b.db.QueryRowContext(ctx, "SELECT imported FROM runs WHERE run = $1", run).Scan(&imported)
	if err != nil {
		return false, fmt.Errorf("read run %s: %w", run, b.lost(err))
	}
	return imported == 1, nil
}

// Behind returns by how much the clock is earlier than the beginning of the last run
// written here, and the name of that run; zero if it is not earlier. For a server it uses
// the spool: other benches have other clocks.
func (b *Book) Behind() (by time.Duration, run string, err error) {
	if b.spool != nil {
		return b.spool.Behind()
	}
	ctx, cancel := patient()
	defer cancel()
	var begunMS int64
	err = b.db.QueryRowContext(ctx, "SELECT run, begun_ms FROM runs WHERE imported = 0 ORDER BY id DESC LIMIT 1").Scan(&run, &begunMS)
	switch {
	case errors.Is(err, sql.ErrNoRows):
		return 0, "", nil
	case err != nil:
		return 0, "", fmt.Errorf("read the logbook: %w", err)
	}
	if by = time.UnixMilli(begunMS).Sub(b.now()); by > 0 {
		return by.Round(time.Second), run, nil
	}
	return 0, "", nil
}
