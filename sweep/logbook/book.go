package logbook

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"time"

	"headtrue/sweep/logbook/places"
	"headtrue/sweep/record"
)

// ErrEmpty is returned if no run was found.
var ErrEmpty = errors.New("the logbook has no such run yet")

// ErrDamaged is returned for a store that is no longer a valid logbook.
var ErrDamaged = errors.New("its file is damaged")

// ErrOnlyToRead is returned for any change of a logbook that may not be written.
var ErrOnlyToRead = errors.New("the logbook can only be read here")

// ErrNoRun is returned for a name without a run.
var ErrNoRun = errors.New("no such run in the logbook")

// ErrDiffers is returned if the logbook has the same run with other entries.
var ErrDiffers = errors.New("the logbook has another run of that name")

// ErrRunning is returned for a run that is still being written.
var ErrRunning = errors.New("it is still being written")

// NewerError reports that a newer program wrote the logbook or the run to be imported.
type NewerError struct {
	What           string
	Version, Known int64
}

func (e *NewerError) Error() string {
	return fmt.Sprintf("%s is in format %d, and this program reads formats up to %d: use the newer program", e.What, e.Version, e.Known)
}

// engine covers the differences between SQLite and PostgreSQL.
type engine interface {
	// held reports whether a process is writing a run.
	held(ctx context.Context, run string, id int64) (bool, error)
	// migrating calls do while no other process changes the tables.
	migrating(ctx context.Context, do func() error) error
	// intact checks the store itself.
	intact(ctx context.Context) error
}

// Book is an open logbook. Several goroutines may call its methods.
type Book struct {
	db         *sql.DB
	engine     engine
	where      places.Logbook
	dir        string
	root       *os.Root // dir; no name leads out of it
	onlyToRead bool
	now        func() time.Time
	// spool is written before the server is, link is the last known state of the server,
	// and life ends when the book is closed; nil and unused for a folder.
	spool *Book
	link  link
	life  context.Context
	end   context.CancelFunc
}

// patience is the longest time of one operation of the store.
const patience = 10 * time.Second

func patient() (context.Context, context.CancelFunc) {
	return context.WithTimeout(context.Background(), patience)
}

// KeepTimeBy replaces the machine's clock.
func (b *Book) KeepTimeBy(now func() time.Time) { b.now = now }

// stamp returns the time of an entry, to the millisecond.
func (b *Book) stamp() string { return b.now().UTC().Format("2006-01-02T15:04:05.000Z") }

// Where returns the folder or the server of the logbook.
func (b *Book) Where() string { return b.where.String() }

// Dir returns the folder of the clips and of the data of units.
func (b *Book) Dir() string { return b.dir }

// atomically calls do in one transaction.
func (b *Book) atomically(ctx context.Context, do func(*sql.Tx) error) error {
	tx, err := b.db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	if err := do(tx); err != nil {
		return errors.Join(err, tx.Rollback())
	}
	return tx.Commit()
}

// readable returns an error for a run recorded by a newer program.
func readable(run string, format int) error {
	if format > record.Version {
		return &NewerError{"run " + run, int64(format), record.Version}
	}
	return nil
}
