package logbook

import (
	"cmp"
	"context"
	"fmt"
	"iter"
)

// List yields the runs that a filter selects, newest first by default. For an unreadable
// row it yields a *DamagedError with the name of the run, then continues. An error
// without a name ends the list.
func (b *Book) List(ctx context.Context, f Filter) iter.Seq2[Summary, error] {
	if b.spool != nil {
		return func(yield func(Summary, error) bool) { b.listBoth(ctx, f, yield) }
	}
	return b.list(ctx, f)
}

// namesOf is the number of newest runs that Names looks at.
const namesOf = 1000

// Names lists what a field of the newest runs holds, each once, the newest first; "" is no name.
func (b *Book) Names(ctx context.Context, field func(Summary) string) (names []string) {
	seen := map[string]bool{"": true}
	for s, err := range b.List(ctx, Filter{Limit: namesOf}) {
		if name := field(s); err == nil && !seen[name] {
			seen[name] = true
			names = append(names, name)
		}
	}
	return names
}

// Newest loads the latest run that a filter selects. It returns ErrEmpty if there is
// none.
func (b *Book) Newest(f Filter) (Record, error) {
	ctx, cancel := patient()
	defer cancel()
	f.Limit = 1
	for s, err := range b.List(ctx, f) {
		if err != nil {
			return Record{}, err
		}
		return b.Load(s.Run)
	}
	return Record{}, ErrEmpty
}

// Records yields the runs that a filter selects, with all entries. For an unreadable run
// it yields an error, then continues.
func (b *Book) Records(ctx context.Context, f Filter) iter.Seq2[Record, error] {
	return func(yield func(Record, error) bool) {
		for s, err := range b.List(ctx, f) {
			if err != nil {
				if !yield(Record{Run: s.Run}, err) || s.Run == "" {
					return
				}
				continue
			}
			from := b
			if s.spooled {
				from = b.spool
			}
			rec, err := from.load(ctx, s.Run, s.id, s.format)
			if !yield(rec, err) {
				return
			}
		}
	}
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
