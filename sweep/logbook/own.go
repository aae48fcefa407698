package logbook

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"
)

// markImported notes that a run was recorded elsewhere: it says nothing of what stands on
// this bench.
func markImported(ctx context.Context, tx *sql.Tx, id int64) error {
	_, err := tx.ExecContext(ctx, "UPDATE runs SET imported = 1 WHERE id = $1", id)
	return err
}

// Imported says that a run was recorded elsewhere.
func (b *Book) Imported(run string) (bool, error) {
	ctx, cancel := patient()
	defer cancel()
	var imported int
	err := b.db.QueryRowContext(ctx, "SELECT imported FROM runs WHERE run = $1", run).Scan(&imported)
	if err != nil {
		return false, fmt.Errorf("read run %s: %w", run, err)
	}
	return imported == 1, nil
}

// Behind is by how much the clock is earlier than the beginning of the last run that was
// written here, and that run; zero where it is not.
func (b *Book) Behind() (by time.Duration, run string, err error) {
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
