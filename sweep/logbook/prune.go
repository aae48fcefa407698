package logbook

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	"headtrue/sweep/record"
)

// Pruning lists what Prune removes, or would remove.
type Pruning struct {
	// Runs are removed with their clips or, for clips only, lose just those.
	Runs  []Summary
	Clips int
	Bytes int64 // of the clips
	// Kept are selected runs that stay, with the reason.
	Kept map[string]string
}

// Reasons why a run stays.
const (
	keptLatest  = "it is the latest of its unit and head: restore needs it"
	keptRunning = "it is still being written"
	keptProof   = "a run that stays refers to it"
	keptUnsent  = "it has not been sent to the server yet"
)

// Prune finds the runs that a filter selects and, if do is set, removes them; clipsOnly
// keeps the records. The latest run of each unit and head on each port stays, so that the
// screw can be restored; so do runs that others refer to. A clip is removed before its
// record, so no clip is left without a record.
func (b *Book) Prune(ctx context.Context, f Filter, clipsOnly, do bool) (Pruning, error) {
	p := Pruning{Kept: map[string]string{}}
	if do && b.onlyToRead {
		return p, ErrOnlyToRead
	}
	var picked []Summary
	for s, err := range b.List(ctx, f) {
		if err != nil {
			return p, err
		}
		picked = append(picked, s)
	}
	latest, referred, err := b.needed(ctx, picked)
	if err != nil {
		return p, err
	}
	var records []Record
	for _, s := range picked {
		switch {
		case s.spooled:
			p.Kept[s.Run] = keptUnsent
		case latest[s.Run]:
			p.Kept[s.Run] = keptLatest
		case referred[s.Run]:
			p.Kept[s.Run] = keptProof
		default:
			p.Runs = append(p.Runs, s)
		}
	}
	going := p.Runs[:0]
	for _, s := range p.Runs {
		rec, err := b.Load(s.Run)
		var damaged *DamagedError
		if err != nil && !errors.As(err, &damaged) {
			return p, err
		}
		if rec.Running {
			p.Kept[s.Run] = keptRunning
			continue
		}
		for _, size := range b.ownClips(rec) {
			p.Clips++
			p.Bytes += size
		}
		going, records = append(going, s), append(records, rec)
	}
	p.Runs = going
	if !do {
		return p, nil
	}
	for i, s := range p.Runs {
		if err := b.takeOut(s, records[i], clipsOnly); err != nil {
			return p, fmt.Errorf("take out run %s: %w", s.Run, err)
		}
	}
	return p, nil
}

// needed returns the runs that must stay: the latest of each unit and head on each port,
// and those that a run which is not picked refers to.
func (b *Book) needed(ctx context.Context, picked []Summary) (latest, referred map[string]bool, err error) {
	isPicked := map[string]bool{}
	for _, s := range picked {
		isPicked[s.Run] = true
	}
	latest, referred = map[string]bool{}, map[string]bool{}
	seen := map[[3]string]bool{}
	for s, err := range b.List(ctx, Filter{Real: true}) {
		if err != nil {
			return nil, nil, err
		}
		if at := [3]string{s.Unit, s.Head, s.Port}; s.FoundKnown && s.RestoreOf == "" && !seen[at] {
			seen[at], latest[s.Run] = true, true
		}
		if !isPicked[s.Run] || latest[s.Run] {
			referred[s.RestoreOf], referred[s.ProofOf] = true, true
		}
	}
	return latest, referred, nil
}

func (b *Book) takeOut(s Summary, rec Record, clipsOnly bool) error {
	for name := range b.ownClips(rec) {
		if err := b.removeClip(name); err != nil {
			return err
		}
	}
	if clipsOnly {
		return b.Note(s.Run, record.Note{By: prunedBy, Text: "its clips were taken out"})
	}
	ctx, cancel := patient()
	defer cancel()
	return b.atomically(ctx, func(tx *sql.Tx) error {
		for _, order := range []string{"DELETE FROM entries WHERE run = $1", "DELETE FROM packs WHERE run = $1", "DELETE FROM runs WHERE id = $1"} {
			if _, err := tx.ExecContext(ctx, order, s.id); err != nil {
				return err
			}
		}
		return nil
	})
}
