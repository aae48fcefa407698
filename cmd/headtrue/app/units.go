package app

import (
	"context"
	"headtrue/sweep/logbook"
	"headtrue/sweep/production"
	"maps"
	"slices"
)

// UnitsOf are the units of all batches of which a run fits, with all their runs: a
// unit may have been set before the time that is asked for and proved in it.
func UnitsOf(ctx context.Context, book *logbook.Book, f logbook.Filter) (units []production.Unit, err error) {
	batches := map[string]bool{}
	for s, err := range book.List(ctx, f) {
		if err != nil {
			return nil, err
		}
		if s.Batch != "" {
			batches[s.Batch] = true
		}
	}
	for _, batch := range slices.Sorted(maps.Keys(batches)) {
		var runs []production.Run
		for rec, err := range book.Records(ctx, logbook.Filter{Batch: batch, Real: f.Real, Virtual: f.Virtual, OldestFirst: true}) {
			if err != nil {
				return nil, err
			}
			r, err := production.RunOf(rec.Entries)
			if err != nil {
				return nil, err
			}
			runs = append(runs, r)
		}
		units = append(units, production.Units(runs)...)
	}
	return units, nil
}
