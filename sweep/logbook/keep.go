package logbook

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
)

// Trouble is one fault found in the logbook.
type Trouble struct {
	Run  string `json:"run,omitempty"`
	Say  string `json:"say"`
	Clip string `json:"clip,omitempty" help:"what is wrong, and the run and clip it concerns"`
}

// Check checks the store itself, reads every run, and compares every clip with its hash.
// It reports each fault by tell.
func (b *Book) Check(ctx context.Context, tell func(Trouble)) (runs int, err error) {
	b.intact(ctx, tell)
	for rec, err := range b.Records(ctx, Filter{OldestFirst: true}) {
		if rec.Run == "" {
			return runs, err
		}
		runs++
		if err == nil {
			err = rec.valid()
		}
		if err != nil {
			tell(Trouble{Run: rec.Run, Say: err.Error()})
		}
		if rec.clipsPruned() {
			continue
		}
		for _, c := range rec.Clips() {
			if err := b.checkClip(c); err != nil {
				tell(Trouble{Run: rec.Run, Clip: c.Name, Say: err.Error()})
			}
		}
	}
	return runs, b.checkCopies(ctx, tell)
}

// intact checks the store itself, and the spool if it is on a server.
func (b *Book) intact(ctx context.Context, tell func(Trouble)) {
	if err := b.engine.intact(ctx); err != nil {
		tell(Trouble{Say: fmt.Sprintf("the store is damaged: %v", err)})
	}
	if b.spool != nil {
		b.spool.intact(ctx, func(t Trouble) { tell(Trouble{Say: "in the spool " + b.spool.dir + ": " + t.Say}) })
	}
}

// checkCopies reads what Records omits for a logbook on a server: the server's part of a
// run that waits in the spool, and the spool's copy of a sent run.
func (b *Book) checkCopies(ctx context.Context, tell func(Trouble)) error {
	if b.spool == nil {
		return nil
	}
	_, waiting, err := b.spool.unsent(ctx)
	if err != nil {
		return err
	}
	for s, err := range b.spool.list(ctx, Filter{OldestFirst: true}) {
		copied, which := b.spool, "the copy in the spool"
		if _, waits := waiting[s.Run]; waits {
			copied, which = b, "the part on the server"
		}
		if err == nil {
			_, err = copied.loadNamed(ctx, s.Run)
		}
		switch {
		case errors.Is(err, ErrNoRun):
		case err != nil && s.Run == "":
			return err
		case err != nil:
			tell(Trouble{Run: s.Run, Say: which + ": " + err.Error()})
		}
	}
	return nil
}

// Backup copies the logbook, in a folder or on a server, with its clips into a new
// folder, which is then a logbook too. A missing clip is reported and left out; a damaged
// one is reported and copied.
func (b *Book) Backup(ctx context.Context, dir string, tell func(Trouble)) (runs int, err error) {
	if found, err := os.ReadDir(dir); err == nil && len(found) > 0 {
		return 0, fmt.Errorf("back up to %s: the folder is not empty", dir)
	}
	b.intact(ctx, tell)
	to, err := b.copyInto(ctx, dir)
	if err != nil {
		return 0, fmt.Errorf("back up to %s: %w", dir, err)
	}
	defer func() { err = errors.Join(err, to.Close()) }()
	from := to // for a file, read the copy: this proves that it is readable
	if b.where.IsServer() {
		from = b
	}
	for rec, err := range from.Records(ctx, Filter{OldestFirst: true}) {
		if rec.Run == "" {
			return runs, err
		}
		if err == nil && from == b {
			_, err = to.take(rec.Entries)
		}
		if err != nil {
			tell(Trouble{Run: rec.Run, Say: err.Error()})
			continue
		}
		b.backUpClips(to.root, rec, tell)
		runs++
	}
	return runs, nil
}

func (b *Book) backUpClips(to *os.Root, rec Record, tell func(Trouble)) {
	if rec.clipsPruned() {
		return
	}
	for _, c := range rec.Clips() {
		if err := b.backUpClip(to, c); err != nil {
			tell(Trouble{Run: rec.Run, Clip: c.Name, Say: err.Error()})
		}
	}
}

// copyInto makes the logbook for a backup. SQLite copies its state at one moment; for a
// server the runs are added later.
func (b *Book) copyInto(ctx context.Context, dir string) (*Book, error) {
	if b.where.IsServer() {
		return Open(dir, "")
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return nil, err
	}
	path := filepath.Join(dir, sqliteFile)
	if _, err := b.db.ExecContext(ctx, "VACUUM INTO $1", path); err != nil {
		return nil, damagedStore(err)
	}
	file, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	if err := errors.Join(file.Sync(), file.Close()); err != nil {
		return nil, err
	}
	return Open(dir, "")
}
