package logbook

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"headtrue/sweep/record"
)

// Trouble is one thing that is wrong with the logbook.
type Trouble struct {
	Run  string `json:"run,omitempty"`
	Say  string `json:"say"`
	Clip string `json:"clip,omitempty"`
}

// Check looks the store itself over, reads every run, and compares every clip with
// its hash. It tells what it finds as it goes.
func (b *Book) Check(ctx context.Context, tell func(Trouble)) (runs int, err error) {
	if err := b.engine.intact(ctx); err != nil {
		tell(Trouble{Say: fmt.Sprintf("the store is damaged: %v", err)})
	}
	for rec, err := range b.Records(ctx, Filter{OldestFirst: true}) {
		if rec.Run == "" {
			return runs, err
		}
		runs++
		if err != nil {
			tell(Trouble{Run: rec.Run, Say: err.Error()})
			continue
		}
		if rec.clipsPruned() {
			continue
		}
		for _, c := range rec.Clips() {
			if say := b.clipTrouble(c); say != "" {
				tell(Trouble{Run: rec.Run, Clip: c.Name, Say: say})
			}
		}
	}
	return runs, nil
}

// Clips are the clips of a run.
func (r Record) Clips() (clips []record.Clip) {
	for _, e := range r.Entries {
		if e.Clip != nil {
			clips = append(clips, *e.Clip)
		}
	}
	return clips
}

func (r Record) clipsPruned() bool {
	return last(r, func(e record.Entry) *record.Note {
		if e.Note != nil && e.Note.By == prunedBy {
			return e.Note
		}
		return nil
	}) != nil
}

// clipTrouble says what is wrong with a clip's file, or nothing.
func (b *Book) clipTrouble(c record.Clip) string {
	now, err := ClipOf(filepath.Join(b.dir, c.Name))
	switch {
	case errors.Is(err, os.ErrNotExist):
		return "the clip is missing"
	case err != nil:
		return err.Error()
	case now.SHA256 != c.SHA256:
		return fmt.Sprintf("the clip is not as it was recorded: %d bytes, then %d", now.Bytes, c.Bytes)
	}
	return ""
}

// Backup copies the logbook, whatever it is kept in, with its clips into a new
// folder, which is a logbook of its own. A clip that is missing is told and left
// out.
func (b *Book) Backup(ctx context.Context, dir string, tell func(Trouble)) (runs int, err error) {
	if found, err := os.ReadDir(dir); err == nil && len(found) > 0 {
		return 0, fmt.Errorf("back up to %s: the folder is not empty", dir)
	}
	to, err := b.copyInto(ctx, dir)
	if err != nil {
		return 0, fmt.Errorf("back up to %s: %w", dir, err)
	}
	defer func() { err = errors.Join(err, to.Close()) }()
	for rec, err := range b.Records(ctx, Filter{OldestFirst: true}) {
		if rec.Run == "" {
			return runs, err
		}
		if err != nil {
			tell(Trouble{Run: rec.Run, Say: err.Error()})
			continue
		}
		if b.where.IsServer() {
			if _, err := to.Import(rec.Entries); err != nil {
				return runs, err
			}
		}
		for _, c := range rec.Clips() {
			if rec.clipsPruned() {
				break
			}
			if err := copyFile(filepath.Join(b.dir, c.Name), filepath.Join(dir, c.Name)); err != nil {
				tell(Trouble{Run: rec.Run, Clip: c.Name, Say: err.Error()})
			}
		}
		runs++
	}
	return runs, nil
}

// copyInto makes the logbook that a backup goes into. SQLite copies itself, as it is
// at one moment; the runs of a server are yet to come.
func (b *Book) copyInto(ctx context.Context, dir string) (*Book, error) {
	if b.where.IsServer() {
		return Open(dir, "")
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return nil, err
	}
	path := filepath.Join(dir, sqliteFile)
	if _, err := b.db.ExecContext(ctx, "VACUUM INTO $1", path); err != nil {
		return nil, err
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

func copyFile(from, to string) error {
	in, err := os.Open(from)
	if err != nil {
		return err
	}
	defer in.Close()
	out, err := os.Create(to)
	if err != nil {
		return err
	}
	_, err = io.Copy(out, in)
	return errors.Join(err, out.Sync(), out.Close())
}
