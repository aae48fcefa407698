package logbook

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"github.com/pressly/goose/v3"

	"headtrue/sweep/logbook/places"
)

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

// openingPatience is the wait for the server when a logbook is opened.
const openingPatience = 3 * time.Second

// openServer opens the spool and asks whether the server is there. If it is, openServer
// sends the waiting runs.
func (b *Book) openServer() error {
	b.life, b.end = context.WithCancel(context.Background())
	if err := b.openPostgres(); err != nil {
		return err
	}
	if err := b.openSpool(); err != nil {
		return err
	}
	ctx, cancel := context.WithTimeout(b.life, openingPatience)
	defer cancel()
	err := b.reach(ctx)
	var away *AwayError
	if errors.As(err, &away) {
		return nil
	}
	if err == nil {
		_ = b.sendLeftovers(ctx) // Unsent counts those that fail
	}
	return err
}

// openSpool opens the spool, one for each server.
func (b *Book) openSpool() (err error) {
	sum := sha256.Sum256([]byte(b.where.String()))
	b.spool, err = Open(filepath.Join(b.dir, "spool-"+hex.EncodeToString(sum[:4])), "")
	if err != nil {
		return err
	}
	b.spool.now = func() time.Time { return b.now() }
	ctx, cancel := patient()
	defer cancel()
	_, err = b.spool.db.ExecContext(ctx, "CREATE TABLE IF NOT EXISTS sent (run INTEGER PRIMARY KEY REFERENCES runs (id))")
	return err
}

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

// closeServer ends all sending and closes the spool. The connections are closed in
// parallel, since a frozen server would block.
func (b *Book) closeServer() error {
	b.end()
	closed := make(chan error, 1)
	go func() { closed <- b.db.Close() }() // ends with the answer of the server, or by the driver's own limit
	err := b.spool.Close()
	select {
	case server := <-closed:
		return errors.Join(err, server)
	case <-time.After(farewellIfAway):
		return err
	}
}
