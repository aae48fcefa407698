package logbook

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"sync/atomic"
	"time"

	"headtrue/jig/fault"
	"headtrue/sweep/record"
)

// resendEvery is the time between tries of the server; farewell is how long a closed run
// waits for the sending of its rest.
const (
	resendEvery     = time.Second
	farewell        = 2 * time.Second
	farewellIfAway  = 200 * time.Millisecond
	sendingPatience = 10 * time.Second
)

// sender copies the entries of one run from the spool to the server, in its own
// goroutine, which ends with finish or with the book.
type sender struct {
	book   *Book
	name   string
	id     int64 // in the spool
	wake   chan struct{}
	closed atomic.Bool // the run is complete in the spool
	away   atomic.Bool // the last try failed
	cancel context.CancelFunc
	done   chan struct{}
}

func (b *Book) sendAlong(run *Run) *sender {
	ctx, cancel := context.WithCancel(b.life)
	s := &sender{book: b, name: run.name, id: run.id, wake: make(chan struct{}, 1), cancel: cancel, done: make(chan struct{})}
	s.away.Store(b.Away() != nil)
	go s.work(ctx)
	return s
}

// more reports that there is something to send. It never waits.
func (s *sender) more() {
	select {
	case s.wake <- struct{}{}:
	default:
	}
}

// finish waits a short time for the rest to be sent. The next program that opens the
// logbook sends what is left.
func (s *sender) finish() {
	s.closed.Store(true)
	s.more()
	patience := farewell
	if s.away.Load() {
		patience = farewellIfAway
	}
	select {
	case <-s.done:
	case <-time.After(patience):
	}
	s.cancel()
}

func (s *sender) work(ctx context.Context) {
	defer close(s.done)
	defer fault.Recovered(s.failed) // the run continues, and stays in the spool
	var held *holding
	defer func() { held.letGo() }()
	for {
		whole := s.closed.Load()
		held = s.try(ctx, held, whole)
		again := (<-chan time.Time)(nil)
		if s.away.Load() {
			again = time.After(resendEvery)
		} else if whole {
			return
		}
		select {
		case <-ctx.Done():
			return
		case <-s.wake:
		case <-again:
		}
	}
}

// try sends everything available over the connection that marks the run as being written,
// or over a new one.
func (s *sender) try(ctx context.Context, held *holding, whole bool) *holding {
	ctx, cancel := context.WithTimeout(ctx, sendingPatience)
	defer cancel()
	err := s.book.reach(ctx)
	if err == nil && held == nil {
		_ = s.book.sendLeftovers(ctx) // first, so that the rows of the server are in order of writing
		held, err = s.book.newHolding(ctx)
	}
	if err == nil {
		err = s.book.sendRun(ctx, held, s.name, s.id, whole)
	}
	if err == nil && whole {
		err = s.book.spool.markSent(ctx, s.id)
	}
	if err == nil && whole {
		_ = s.book.sendLeftovers(ctx) // earlier runs; Unsent counts those that fail
	}
	s.away.Store(false)
	if err != nil {
		s.failed(err)
		held.letGo()
		return nil
	}
	return held
}

func (s *sender) failed(err error) {
	s.away.Store(true)
	_ = s.book.lost(err)
}

// holding is a connection to the server that marks a run as being written; its lock ends
// with it. A lock of an older connection of this bench is equally good.
type holding struct {
	conn *sql.Conn
	id   int64 // of the run whose lock it has, on the server
}

func (b *Book) newHolding(ctx context.Context) (*holding, error) {
	conn, err := b.db.Conn(ctx)
	if err != nil {
		return nil, err
	}
	return &holding{conn: conn}, nil
}

func (h *holding) hold(ctx context.Context, id int64) error {
	if h.id == id {
		return nil
	}
	_, err := h.conn.ExecContext(ctx, "SELECT pg_try_advisory_lock($1, $2)", runningClass, int32(id))
	h.id = id
	return err
}

// letGo ends the lock and closes the connection, even if the server does not answer.
func (h *holding) letGo() {
	if h == nil {
		return
	}
	ctx, cancel := context.WithTimeout(context.Background(), farewellIfAway)
	defer cancel()
	if h.id != 0 {
		_, _ = h.conn.ExecContext(ctx, "SELECT pg_advisory_unlock($1, $2)", runningClass, int32(h.id))
	}
	_ = h.conn.Close()
}

// sendRun adds the missing entries of a run of the spool to the server in one
// transaction. It first counts the entries there, so a transaction whose answer was lost
// is not repeated. If whole is set, it packs a run that has ended.
func (b *Book) sendRun(ctx context.Context, h *holding, name string, spoolID int64, whole bool) error {
	tx, err := h.conn.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	id, err := b.addMissing(ctx, tx, name, spoolID)
	if err == nil && whole {
		err = b.packEnded(ctx, tx, id, spoolID)
	}
	if err == nil && !whole {
		err = h.hold(ctx, id)
	}
	if err != nil {
		return errors.Join(err, tx.Rollback())
	}
	return tx.Commit()
}

// addMissing adds the entries of a run that the server lacks, and returns the number of
// the run there.
func (b *Book) addMissing(ctx context.Context, tx *sql.Tx, name string, spoolID int64) (id int64, err error) {
	first, err := linesFrom(ctx, b.spool.db, spoolID, 0, 1)
	if err != nil {
		return 0, err
	}
	var start record.Entry
	if len(first) == 0 || json.Unmarshal(first[0], &start) != nil || start.Start == nil {
		return 0, fmt.Errorf("run %s in the spool does not begin with a start entry", name)
	}
	have, packed := 0, false
	id, err = insertRun(ctx, tx, start)
	if errors.Is(err, errTaken) {
		id, have, packed, err = onServer(ctx, tx, name, first[0])
	}
	if err != nil || packed {
		return id, err
	}
	missing, err := linesFrom(ctx, b.spool.db, spoolID, have, -1)
	if err != nil {
		return 0, err
	}
	for i, line := range missing {
		var e record.Entry
		if err := json.Unmarshal(line, &e); err != nil {
			return 0, fmt.Errorf("entry %d of run %s in the spool: %w", have+i, name, err)
		}
		if _, err := tx.ExecContext(ctx, "INSERT INTO entries (run, n, body) VALUES ($1, $2, $3)", id, have+i, line); err != nil {
			return 0, err
		}
		if e.Start != nil {
			continue
		}
		if err := note(ctx, tx, id, e); err != nil {
			return 0, err
		}
	}
	return id, nil
}

// linesFrom returns the entries of a run from a number on, at most most of them if that
// is not negative.
func linesFrom(ctx context.Context, q querier, id int64, from, most int) (all [][]byte, err error) {
	rows, err := q.QueryContext(ctx, "SELECT body FROM entries WHERE run = $1 AND n >= $2 AND NOT EXISTS (SELECT 1 FROM packs WHERE run = $1) ORDER BY n", id, from)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for rows.Next() && len(all) != most {
		var body []byte
		if err := rows.Scan(&body); err != nil {
			return nil, err
		}
		all = append(all, body)
	}
	if err := rows.Err(); err != nil || len(all) > 0 {
		return all, err
	}
	all, err = lines(ctx, q, id) // the run is packed, or has no more entries
	all = all[min(from, len(all)):]
	if most >= 0 {
		all = all[:min(most, len(all))]
	}
	return all, err
}

// onServer returns how many entries of a run the server has; a packed run is complete.
func onServer(ctx context.Context, tx *sql.Tx, name string, first []byte) (id int64, have int, packed bool, err error) {
	// The run may have been imported before it was sent.
	if err := tx.QueryRowContext(ctx, "UPDATE runs SET imported = 0 WHERE run = $1 RETURNING id", name).Scan(&id); err != nil {
		return 0, 0, false, err
	}
	there, err := linesFrom(ctx, tx, id, 0, 1)
	if err != nil {
		return 0, 0, false, err
	}
	if len(there) == 0 || !bytes.Equal(there[0], first) {
		return 0, 0, false, fmt.Errorf("run %s of the spool: %w", name, ErrDiffers)
	}
	err = tx.QueryRowContext(ctx, `SELECT (SELECT count(*) FROM entries WHERE run = $1 AND n < $2),
		EXISTS (SELECT 1 FROM packs WHERE run = $1)`, id, remarksFrom).Scan(&have, &packed)
	return id, have, packed, err
}

// packEnded packs a run on the server, once, if its end is in the spool.
func (b *Book) packEnded(ctx context.Context, tx *sql.Tx, id, spoolID int64) error {
	var ended, packed bool
	if err := b.spool.db.QueryRowContext(ctx, "SELECT outcome <> '' FROM runs WHERE id = $1", spoolID).Scan(&ended); err != nil {
		return err
	}
	if err := tx.QueryRowContext(ctx, "SELECT EXISTS (SELECT 1 FROM packs WHERE run = $1)", id).Scan(&packed); err != nil {
		return err
	}
	if !ended || packed {
		return nil
	}
	return pack(ctx, tx, id)
}

// sendLeftovers sends the runs that wait in the spool and that no process is writing.
func (b *Book) sendLeftovers(ctx context.Context) error {
	names, ids, err := b.spool.unsent(ctx)
	if err != nil || len(names) == 0 {
		return err
	}
	var failed []error
	for _, name := range names {
		writing, err := b.spool.engine.held(ctx, name, ids[name])
		if err == nil && !writing {
			err = b.sendLeftover(ctx, name, ids[name])
		}
		if err != nil {
			failed = append(failed, b.lost(err))
		}
		if ctx.Err() != nil {
			break
		}
	}
	return errors.Join(failed...)
}

// sendWaiting sends a run if it waits in the spool. It returns ErrRunning if a process is
// writing the run.
func (b *Book) sendWaiting(ctx context.Context, run string) error {
	if b.spool == nil {
		return nil
	}
	_, ids, err := b.spool.unsent(ctx)
	id, waits := ids[run]
	if err != nil || !waits {
		return err
	}
	writing, err := b.spool.engine.held(ctx, run, id)
	switch {
	case err != nil:
		return err
	case writing:
		return ErrRunning
	}
	return b.sendLeftover(ctx, run, id)
}

func (b *Book) sendLeftover(ctx context.Context, name string, id int64) error {
	h, err := b.newHolding(ctx)
	if err != nil {
		return err
	}
	defer h.letGo()
	if err := b.sendRun(ctx, h, name, id, true); err != nil {
		return err
	}
	return b.spool.markSent(ctx, id)
}
