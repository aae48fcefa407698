package logbook

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strings"
	"sync"
	"time"

	"github.com/jackc/pgx/v5/pgconn"
	"github.com/pressly/goose/v3"
	"modernc.org/sqlite"
)

// AwayError reports that the server of a logbook is away or does not answer in time. Runs
// are still recorded, in Spool, and sent later.
type AwayError struct {
	Where, Spool string
	Err          error
}

func (e *AwayError) Error() string {
	return fmt.Sprintf("the logbook's server %s does not answer: %s", e.Where, strings.Join(strings.Fields(e.Err.Error()), " "))
}

func (e *AwayError) Unwrap() error { return e.Err }

// awayFor is the time after a failure for which the server counts as away and is not
// asked again.
const awayFor = 5 * time.Second

// link is the last known state of the server: ready when it has answered and its tables
// are up to date.
type link struct {
	mu    sync.Mutex
	ready bool
	err   error
	at    time.Time // of err
}

// reach returns nil when the server has answered, an *AwayError if it is away, and any
// other error if it refuses us, which waiting does not change.
func (b *Book) reach(ctx context.Context) error {
	if b.spool == nil {
		return nil
	}
	b.link.mu.Lock()
	defer b.link.mu.Unlock()
	if b.link.ready {
		return nil
	}
	if b.link.err != nil && time.Since(b.link.at) < awayFor {
		return b.link.err
	}
	err := b.db.PingContext(ctx)
	if err == nil {
		err = b.engine.migrating(ctx, func() error { return b.migrate(ctx, goose.DialectPostgres) })
	}
	b.link.ready, b.link.err, b.link.at = err == nil, b.awayOr(err), time.Now()
	return b.link.err
}

// lost makes the next reach ask the server again if err may mean that it is away. It
// ignores an error of reach itself: else a server tried often would stay away forever.
func (b *Book) lost(err error) error {
	var away *AwayError
	if errors.As(err, &away) {
		return err
	}
	if err = b.awayOr(err); errors.As(err, &away) {
		b.link.mu.Lock()
		defer b.link.mu.Unlock()
		b.link.ready, b.link.err, b.link.at = false, err, time.Now()
	}
	return err
}

// awayOr converts an error that does not come from a working server to an *AwayError.
func (b *Book) awayOr(err error) error {
	var said *pgconn.PgError
	var newer *NewerError
	var away *AwayError
	var file *sqlite.Error
	switch {
	case err == nil, b.spool == nil, errors.As(err, &newer), errors.As(err, &away):
		return err
	case errors.Is(err, ErrDiffers), errors.Is(err, errDamaged), errors.Is(err, sql.ErrNoRows), errors.As(err, &file):
		return err // about the data that were read
	case errors.As(err, &said) && !passing[said.Code[:2]]:
		return err
	}
	return &AwayError{b.where.String(), b.spool.dir, err}
}

// passing are the classes of server errors that end by themselves (PostgreSQL's manual,
// Error Codes): connection, resources, operator intervention.
var passing = map[string]bool{"08": true, "53": true, "57": true}

// Away returns why the server of the logbook was away when last asked; nil if it was
// there, and for a folder.
func (b *Book) Away() error {
	b.link.mu.Lock()
	defer b.link.mu.Unlock()
	return b.link.err
}
