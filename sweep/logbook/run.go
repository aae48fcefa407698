package logbook

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"headtrue/sweep/record"
)

// Run is a run being written. Several goroutines may call its methods.
type Run struct {
	book    *Book
	name    string
	id      int64
	release func() error
	dir     string  // of the clips
	sender  *sender // of a run on a server

	mu     sync.Mutex
	next   int // number of the next entry
	ended  bool
	broken error
}

// Begin starts a run. It chooses the name, writes it and the version of the format into
// start, and makes the first entry durable before it returns. Two runs that begin in one
// second, on one bench or two, get different names.
func (b *Book) Begin(start record.Start) (*Run, error) {
	base := b.now().UTC().Format("20060102T150405Z")
	store := b
	if b.spool != nil {
		store, base = b.spool, base+ownSuffix()
	}
	for n := 1; n < 1000; n++ {
		start.Run, start.Version = base, record.Version
		if n > 1 {
			start.Run = fmt.Sprintf("%s-%03d", base, n)
		}
		run, err := store.begin(start)
		if err != nil {
			return nil, fmt.Errorf("begin run %s in the logbook: %w", start.Run, withCause(err))
		}
		if run != nil {
			run.dir = b.dir
			run.setAside()
			if b.spool != nil {
				run.sender = b.sendAlong(run)
			}
			return run, nil
		}
	}
	return nil, fmt.Errorf("begin a run in the logbook: no free name left for %s", base)
}

// begin returns no run if the name is taken.
func (b *Book) begin(start record.Start) (*Run, error) {
	ctx, cancel := patient()
	defer cancel()
	run := &Run{book: b, name: start.Run, next: 1}
	e := record.Entry{Kind: record.KindStart, Start: &start, At: b.stamp()}
	err := b.atomically(ctx, func(tx *sql.Tx) (err error) {
		run.id, err = insertRun(ctx, tx, e)
		if errors.Is(err, sql.ErrNoRows) {
			return errTaken
		}
		if err != nil {
			return err
		}
		run.release, err = b.files().hold(ctx, run.name, run.id)
		return cmp.Or(err, insertEntry(ctx, tx, run.id, 0, e))
	})
	if errors.Is(err, errTaken) {
		return nil, nil
	}
	if err != nil && run.release != nil {
		err = errors.Join(err, run.release())
	}
	return run, err
}

// files returns the engine of the folder in which the run is written; for a server that
// is the spool's.
func (b *Book) files() sqliteEngine { return sqliteEngine{b.db, b.root} }

// stamp returns the time of an entry, to the millisecond.
func (b *Book) stamp() string { return b.now().UTC().Format("2006-01-02T15:04:05.000Z") }

// ID returns the name of the run.
func (r *Run) ID() string { return r.name }

// Append sets the entry's time, adds it to the run and returns when it is durable. After
// an error the entry is not part of the record; entries saved before stay readable. After
// an error for lack of space, the call may be repeated. After any other error every later
// call fails, since the content of the disk is then uncertain.
func (r *Run) Append(e record.Entry) error {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.broken != nil {
		return fmt.Errorf("save to run %s: an earlier save failed: %w", r.name, r.broken)
	}
	ctx, cancel := patient()
	defer cancel()
	e.At = r.book.stamp()
	add := func(tx *sql.Tx) error {
		if err := insertEntry(ctx, tx, r.id, r.next, e); err != nil {
			return err
		}
		return note(ctx, tx, r.id, e)
	}
	err := r.book.atomically(ctx, add)
	if err != nil && e.End != nil && r.book.files().full(err) && r.giveUpReserve() {
		err = r.book.atomically(ctx, add)
	}
	if err != nil {
		if !r.book.files().full(err) {
			r.broken = err
		}
		return fmt.Errorf("save to run %s: %w", r.name, withCause(err))
	}
	if r.sender != nil {
		r.sender.more()
	}
	r.next++
	r.ended = r.ended || e.End != nil
	return nil
}

// ClipPath returns the path for a clip of sound of the run; its name begins with the
// run's. The record keeps the base name.
func (r *Run) ClipPath(name string) string {
	return filepath.Join(r.dir, r.name+"-"+name+".wav")
}

// Close packs the entries of a run that has ended and releases it. It may be called more
// than once.
func (r *Run) Close() error {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.release == nil {
		return nil
	}
	var err error
	if r.ended && r.broken == nil {
		_, _ = packer() // before the transaction, which blocks others; pack returns its error
		ctx, cancel := patient()
		defer cancel()
		err = r.book.atomically(ctx, func(tx *sql.Tx) error { return pack(ctx, tx, r.id) })
	}
	err = errors.Join(err, r.release())
	r.release, r.broken = nil, errors.New("the run is closed")
	if r.sender != nil {
		r.sender.finish()
	}
	return err
}

var errTaken = errors.New("the name is taken")

// insertRun makes the row of a run from its first entry; it returns sql.ErrNoRows if the
// name is taken.
func insertRun(ctx context.Context, tx *sql.Tx, e record.Entry) (id int64, err error) {
	s := e.Start
	begun, err := time.Parse(time.RFC3339Nano, e.At)
	if err != nil {
		return 0, fmt.Errorf("run %s: when it began: %w", s.Run, err)
	}
	var temperature, humidity *float64
	if s.Ambient != nil {
		temperature, humidity = s.Ambient.TemperatureC, s.Ambient.HumidityPercent
	}
	err = tx.QueryRowContext(ctx, `INSERT INTO runs (run, format, begun_ms, command, program, port, virtual, unit, head, job,
		tape, operator, restore_of, proof_of, batch, study, trial, temperature_c, humidity_percent, bench)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17, $18, $19, $20)
		ON CONFLICT (run) DO NOTHING RETURNING id`,
		s.Run, s.Version, begun.UnixMilli(), s.Command, s.Program, s.Port, s.Virtual, s.Unit, s.Head, s.Job,
		s.Tape, s.Operator, s.RestoreOf, s.ProofOf, s.Batch, s.Study, s.Trial, temperature, humidity, s.Bench).Scan(&id)
	return id, err
}

func insertEntry(ctx context.Context, tx *sql.Tx, id int64, n int, e record.Entry) error {
	text, err := encode(e)
	if err != nil {
		return err
	}
	_, err = tx.ExecContext(ctx, "INSERT INTO entries (run, n, body) VALUES ($1, $2, $3)", id, n, text)
	return err
}

// note copies figures of an entry into the row of the run.
func note(ctx context.Context, tx *sql.Tx, id int64, e record.Entry) error {
	var names []string
	values := []any{id}
	set := func(name string, value any) {
		values = append(values, value)
		names = append(names, fmt.Sprintf("%s = $%d", name, len(values)))
	}
	switch {
	case e.Found != nil:
		set("found", 1)
	case e.Decision != nil:
		d := e.Decision
		set("found_off_arcmin", d.FoundOffArcmin)
		set("found_off_sd_arcmin", known(d.FoundOffSDArcmin))
		set("optimum_sd_arcmin", known(d.Optimum.SDArcmin))
		set("gearing_arcmin_per_turn", known(d.GearingArcminPerTurn))
		if d.BacklashSDDeg > 0 {
			set("backlash_deg", d.BacklashDeg)
			set("backlash_sd_deg", d.BacklashSDDeg)
		}
	case e.Left != nil:
		set("left_off_arcmin", e.Left.OffArcmin)
		set("left_off_sd_arcmin", known(e.Left.OffSDArcmin))
	case e.End != nil:
		set("outcome", string(e.End.Outcome))
	}
	if e.TapeSeconds > 0 {
		set("tape_s", e.TapeSeconds)
	}
	if len(names) == 0 {
		return nil
	}
	_, err := tx.ExecContext(ctx, "UPDATE runs SET "+strings.Join(names, ", ")+" WHERE id = $1", values...)
	return err
}

// known returns nil for a figure that was not measured.
func known(x float64) *float64 {
	if x == 0 {
		return nil
	}
	return &x
}
