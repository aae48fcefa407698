package logbook

import (
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sync"

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
		if run.id, err = insertRun(ctx, tx, e); err != nil {
			return err
		}
		if run.release, err = b.files().hold(ctx, run.name, run.id); err != nil {
			return err
		}
		return insertEntry(ctx, tx, run.id, 0, e)
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

// reserveBytes of the disk are reserved for the end of a run, several times what saving
// it needs. They are in the file that marks the run as being written.
const reserveBytes = 256 << 10

func (r *Run) reservePath() string { return filepath.Join(r.book.dir, runningFolder, r.name) }

// setAside reserves the space for the end. Without it the run is still recorded.
func (r *Run) setAside() {
	file, err := os.OpenFile(r.reservePath(), os.O_WRONLY, 0)
	if err != nil {
		return
	}
	defer file.Close()
	noise := make([]byte, reserveBytes)
	for i := range noise {
		noise[i] = byte(i * 7) // a file of zeros takes no room on some disks
	}
	_, _ = file.Write(noise)
}

// giveUpReserve frees that space and reports whether there was any.
func (r *Run) giveUpReserve() bool {
	info, err := os.Stat(r.reservePath())
	return err == nil && info.Size() > 0 && os.Truncate(r.reservePath(), 0) == nil
}
