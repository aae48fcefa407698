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

// ErrEmpty is returned where no run was found.
var ErrEmpty = errors.New("the logbook holds no run yet that was asked for")

// ErrDamaged is returned for a store that is no logbook any more.
var ErrDamaged = errors.New("its file is damaged")

// ErrOnlyToRead is returned for what would change a logbook that may not be written.
var ErrOnlyToRead = errors.New("the logbook can only be read here")

// ErrNoRun is returned for a name that no run has.
var ErrNoRun = errors.New("no such run in the logbook")

// NewerError says that a newer program has written the logbook, or a run that is
// to be imported.
type NewerError struct {
	What           string
	Version, Known int64
}

func (e *NewerError) Error() string {
	return fmt.Sprintf("%s is in format %d, and this program knows formats up to %d: use the newer program", e.What, e.Version, e.Known)
}

//go:embed migrations
var migrations embed.FS

// engine is what SQLite and PostgreSQL do differently.
type engine interface {
	// held says whether some process is writing a run.
	held(ctx context.Context, run string, id int64) (bool, error)
	// migrating has do run while no other process changes the tables.
	migrating(ctx context.Context, do func() error) error
	// intact looks the store itself over.
	intact(ctx context.Context) error
}

// Book is an open logbook. Its methods may be called from several goroutines.
type Book struct {
	db         *sql.DB
	engine     engine
	where      places.Logbook
	dir        string
	root       *os.Root // dir, out of which no name leads
	onlyToRead bool
	now        func() time.Time
	// spool is where a logbook on a server is written first, link what is known of the
	// server, and life ends as the book is closed; nil and unused for a folder.
	spool *Book
	link  link
	life  context.Context
	end   context.CancelFunc
}

// patience is how long one order to the store may take.
const patience = 10 * time.Second

func patient() (context.Context, context.CancelFunc) {
	return context.WithTimeout(context.Background(), patience)
}

// IsServer says that a place names a database server, not a folder.
func IsServer(where string) bool {
	return places.Logbook(where).IsServer()
}

// Open returns the logbook in a folder, which is made where it is missing, or that
// on a PostgreSQL server, postgres://USER@HOST/DATABASE, whose clips lie in the
// folder clips. A server that does not answer is no error: see Away. An older logbook is
// brought up to date; a newer one is a *NewerError. What runs that were killed have left
// lying about is removed.
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

// opened opens the folder of the clips, then the store. After an error the book is
// closed.
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

// openStore opens the store to be written, and clears up after runs that were killed.
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

// OpenExisting is Open for those that only read: where no logbook is it makes none
// and returns ErrEmpty, and one that may not be written it opens to be read.
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

// KeepTimeBy hands in another clock than the machine's.
func (b *Book) KeepTimeBy(now func() time.Time) { b.now = now }

// Where is the folder or the server of the logbook; Dir the folder of its clips.
func (b *Book) Where() string { return b.where.String() }

// Dir is the folder in which the clips lie, and what is kept of units.
func (b *Book) Dir() string { return b.dir }

// Close lets go of the store. Runs that are open are cut off.
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

// atomically does something in one transaction.
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

// readable refuses what a newer program has recorded.
func readable(run string, format int) error {
	if format > record.Version {
		return &NewerError{"run " + run, int64(format), record.Version}
	}
	return nil
}
