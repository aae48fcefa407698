package logbook

import (
	"context"
	"crypto/rand"
	"database/sql"
)

// The spool of a logbook on a server is a logbook in a folder beside the clips. Each
// entry is durable there before Append returns; a sender copies it to the server. So the
// server may stop, freeze or lose its connection at any time: the next program that opens
// the logbook sends the rest. Copies of sent runs stay for a while, for times without the
// server.

// sentKept is the number of sent runs that stay in the spool.
const sentKept = 50

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
