package logbook

import (
	"cmp"
	"context"
	"crypto/rand"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"time"
)

// The spool of a logbook on a server is a logbook in a folder beside the clips. Each
// entry is durable there before Append returns; a sender copies it to the server. So the
// server may stop, freeze or lose its connection at any time: the next program that opens
// the logbook sends the rest. Copies of sent runs stay for a while, for times without the
// server.

// sentKept is the number of sent runs that stay in the spool.
const sentKept = 50

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

// ownSuffix makes the name of a run differ from the names on other benches, which cannot
// be asked: 25 bits.
func ownSuffix() string { return "-" + rand.Text()[:5] }

// unsent returns the runs of the spool that the server lacks in part, oldest first.
func (b *Book) unsent(ctx context.Context) (names []string, ids map[string]int64, err error) {
	return b.written(ctx, "WHERE id NOT IN (SELECT run FROM sent)")
}

// written returns the names of the runs in the spool that a condition selects, in the
// order of their rows, and the numbers of these rows.
func (b *Book) written(ctx context.Context, where string) (names []string, ids map[string]int64, err error) {
	rows, err := b.db.QueryContext(ctx, "SELECT id, run FROM runs "+where+" ORDER BY id")
	if err != nil {
		return nil, nil, err
	}
	defer rows.Close()
	ids = map[string]int64{}
	for rows.Next() {
		var id int64
		var name string
		if err := rows.Scan(&id, &name); err != nil {
			return nil, nil, err
		}
		names, ids[name] = append(names, name), id
	}
	return names, ids, rows.Err()
}

// Unsent returns how many runs wait for the server, and the folder of the spool.
func (b *Book) Unsent() (runs int, folder string, err error) {
	if b.spool == nil {
		return 0, "", nil
	}
	ctx, cancel := patient()
	defer cancel()
	names, _, err := b.spool.unsent(ctx)
	return len(names), b.spool.dir, err
}

// markSent records that the server has a run, and drops the oldest sent runs.
func (b *Book) markSent(ctx context.Context, id int64) error {
	return b.atomically(ctx, func(tx *sql.Tx) error {
		if _, err := tx.ExecContext(ctx, "INSERT INTO sent (run) VALUES ($1) ON CONFLICT DO NOTHING", id); err != nil {
			return err
		}
		const old = "SELECT run FROM sent ORDER BY run DESC LIMIT -1 OFFSET $1"
		for _, order := range []string{"DELETE FROM entries WHERE run IN (" + old + ")", "DELETE FROM packs WHERE run IN (" + old + ")"} {
			if _, err := tx.ExecContext(ctx, order, sentKept); err != nil {
				return err
			}
		}
		// The row of a run is deleted last: sent refers to it.
		if _, err := tx.ExecContext(ctx, "DELETE FROM sent WHERE run IN ("+old+")", sentKept); err != nil {
			return err
		}
		_, err := tx.ExecContext(ctx, `DELETE FROM runs WHERE id < (SELECT min(run) FROM sent) AND id NOT IN (SELECT run FROM sent)
			AND id NOT IN (SELECT run FROM entries) AND id NOT IN (SELECT run FROM packs)`)
		return err
	})
}

// inSpool returns the runs of the spool that a filter selects, in the filter's order: the
// unsent ones and, if the server is away, the copies of sent ones.
func (b *Book) inSpool(ctx context.Context, f Filter, away bool) (picked []Summary, unsent map[string]int64, err error) {
	if _, unsent, err = b.spool.unsent(ctx); err != nil {
		return nil, nil, err
	}
	f.Limit = 0
	for s, err := range b.spool.list(ctx, f) {
		if err != nil {
			return nil, nil, err
		}
		if _, waits := unsent[s.Run]; waits || away {
			s.spooled = true
			picked = append(picked, s)
		}
	}
	return picked, unsent, nil
}

// listBoth yields the runs of the spool and of the server as one list. If the server is
// away, its error comes after the runs of the spool.
func (b *Book) listBoth(ctx context.Context, f Filter, yield func(Summary, error) bool) {
	away := b.reach(ctx)
	here, unsent, err := b.inSpool(ctx, f, away != nil)
	if err != nil {
		yield(Summary{}, fmt.Errorf("list the spool: %w", err))
		return
	}
	_, written, err := b.spool.written(ctx, "")
	if err != nil {
		yield(Summary{}, fmt.Errorf("list the spool: %w", err))
		return
	}
	left := cmp.Or(f.Limit, -1)
	give := func(s Summary) bool {
		left--
		return yield(s, nil) && left != 0
	}
	if away == nil {
		there := f
		if f.Limit > 0 {
			there.Limit += len(unsent)
		}
		for s, err := range b.list(ctx, there) {
			if err != nil {
				away = b.lost(err)
				break
			}
			if _, waits := unsent[s.Run]; waits {
				continue
			}
			for len(here) > 0 && f.before(here[0], s, written) {
				if !give(here[0]) {
					return
				}
				here = here[1:]
			}
			if !give(s) {
				return
			}
		}
	}
	for _, s := range here {
		if !give(s) {
			return
		}
	}
	if away != nil {
		yield(Summary{}, away)
	}
}

// before reports whether a run that waits in the spool comes before one of the server in
// the filter's order. In the order of writing, runs written here are compared by the rows
// of the spool, and a waiting run counts as later than runs written elsewhere.
func (f Filter) before(waits, there Summary, written map[string]int64) bool {
	older := waits.Begun.Before(there.Begun)
	if f.Here {
		row, here := written[there.Run]
		older = here && waits.id < row
	}
	return older == f.OldestFirst
}

// loadSpooled reads a run from the spool if the server lacks a part of it or is away;
// done reports whether it did.
func (b *Book) loadSpooled(run string) (rec Record, done bool, err error) {
	ctx, cancel := patient()
	defer cancel()
	names, _, err := b.spool.unsent(ctx)
	if err != nil {
		return rec, true, err
	}
	away := error(nil)
	if !slices.Contains(names, run) {
		if away = b.reach(ctx); away == nil {
			return rec, false, nil
		}
	}
	rec, err = b.spool.Load(run)
	if errors.Is(err, ErrNoRun) && away != nil {
		err = away
	}
	return rec, true, err
}
