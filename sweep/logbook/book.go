package logbook

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"time"

	"github.com/pressly/goose/v3"

	"headtrue/sweep/logbook/places"
	"headtrue/sweep/record"
)

// ErrEmpty is returned if no run was found.
var ErrEmpty = errors.New("the logbook holds no run yet that was asked for")

// ErrDamaged is returned for a store that is no longer a valid logbook.
var ErrDamaged = errors.New("its file is damaged")

// ErrOnlyToRead is returned for any change of a logbook that may not be written.
var ErrOnlyToRead = errors.New("the logbook can only be read here")

// ErrNoRun is returned for a name without a run.
var ErrNoRun = errors.New("no such run in the logbook")

// NewerError reports that a newer program wrote the logbook or the run to be imported.
type NewerError struct {
	What           string
	Version, Known int64
}

func (e *NewerError) Error() string {
	return fmt.Sprintf("%s is in format %d, and this program knows formats up to %d: use the newer program", e.What, e.Version, e.Known)
}

//go:embed migrations
var migrations embed.FS

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

// IsServer reports whether a place is a database server, not a folder.
func IsServer(where string) bool {
	return places.Logbook(where).IsServer()
}

// Open returns the logbook in a folder, which it makes if missing, or the logbook on a
// PostgreSQL server, postgres://USER@HOST/DATABASE, with its clips in the folder clips. A
// server that does not answer is no error: see Away. Open migrates an older logbook; for
// a newer one it returns a *NewerError. It removes the leftover files of killed runs.
func Open(where, clips string) (*Book, error) {
	b, err := newBook(where, clips)
	if err != nil {
		return nil, err
	}
	if err := os.MkdirAll(b.dir, 0o755); err != nil {
		return nil, fmt.Errorf("open the logbook: %w", withCause(err))
	}
	return b, b.opened(b.openStore)
}

func newBook(where, clips string) (*Book, error) {
	b := &Book{where: places.Logbook(where), dir: where, now: time.Now}
	if b.where.IsServer() {
		b.dir = clips
	}
	if err := b.where.Check(); err != nil {
		return nil, err
	}
	if b.dir == "" {
		return nil, errors.New("the logbook needs a folder")
	}
	return b, nil
}

// opened opens the folder of the clips, then the store. After an error it closes the
// book.
func (b *Book) opened(store func(context.Context) error) (err error) {
	ctx, cancel := patient()
	defer cancel()
	if b.root, err = os.OpenRoot(b.dir); err == nil {
		err = store(ctx)
	}
	if err != nil {
		return errors.Join(fmt.Errorf("open the logbook %s: %w", b.where, withCause(err)), b.Close())
	}
	return nil
}

// openStore opens the store for writing, and removes the leftovers of killed runs.
func (b *Book) openStore(ctx context.Context) (err error) {
	if b.where.IsServer() {
		err = b.openServer()
	} else if err = b.openSQLite(ctx); err == nil {
		err = b.engine.migrating(ctx, func() error { return b.migrate(ctx, goose.DialectSQLite3) })
	}
	if err == nil {
		b.clearUp(ctx)
	}
	return err
}

// OpenExisting is Open for readers: it makes no logbook but returns ErrEmpty, and opens a
// logbook that may not be written for reading only.
func OpenExisting(where, clips string) (*Book, error) {
	if IsServer(where) {
		return Open(where, clips)
	}
	if err := aStore(where); err != nil {
		return nil, err
	}
	if mayWrite(where) {
		return Open(where, clips)
	}
	b, err := newBook(where, clips)
	if err != nil {
		return nil, err
	}
	return b, b.opened(b.openToRead)
}

func (b *Book) migrate(ctx context.Context, dialect goose.Dialect) error {
	folder := "migrations/sqlite"
	if dialect == goose.DialectPostgres {
		folder = "migrations/postgres"
	}
	steps, err := fs.Sub(migrations, folder)
	if err != nil {
		return err
	}
	p, err := goose.NewProvider(dialect, b.db, steps)
	if err != nil {
		return err
	}
	has, known, err := p.GetVersions(ctx)
	switch {
	case err != nil:
		return err
	case has > known:
		return &NewerError{"the logbook", has, known}
	case has == known:
		return nil
	}
	_, err = p.Up(ctx)
	return err
}

// KeepTimeBy replaces the machine's clock.
func (b *Book) KeepTimeBy(now func() time.Time) { b.now = now }

// Where returns the folder or the server of the logbook.
func (b *Book) Where() string { return b.where.String() }

// Dir returns the folder of the clips and of the data of units.
func (b *Book) Dir() string { return b.dir }

// Close closes the store. Runs that are still open are cut off.
func (b *Book) Close() error {
	var errs []error
	switch {
	case b.spool != nil:
		errs = append(errs, b.closeServer())
	case b.db != nil:
		errs = append(errs, b.db.Close())
	}
	if b.root != nil {
		errs = append(errs, b.root.Close())
	}
	return errors.Join(errs...)
}

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
