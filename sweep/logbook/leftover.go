package logbook

import (
	"context"
	"io/fs"
	"os"
	"strings"
	"syscall"
	"time"
)

// A clip is named like .RUN-as-found.wav.123456 until it is complete.
const partOf = ".wav."

// partOfNoRun is how long a part of a clip without a run in the store is kept.
const partOfNoRun = time.Hour

// clearUp removes the leftovers of killed runs: the files that marked them as being
// written, and parts of clips. Files that cannot be removed stay.
func (b *Book) clearUp(ctx context.Context) {
	for _, name := range b.namesIn(runningFolder) {
		b.removeUnlocked(runningFolder + "/" + name)
	}
	for _, name := range b.namesIn(".") {
		if strings.HasPrefix(name, ".") && strings.Contains(name, partOf) && b.abandoned(ctx, name) {
			b.removeUnlocked(name)
		}
	}
}

func (b *Book) namesIn(folder string) (names []string) {
	entries, err := fs.ReadDir(b.root.FS(), folder)
	if err != nil {
		return nil
	}
	for _, e := range entries {
		if e.Type().IsRegular() {
			names = append(names, e.Name())
		}
	}
	return names
}

// removeUnlocked removes a file that no process holds. It holds the file meanwhile, so
// that a beginning run sees the removal. On systems without file locks it removes
// nothing, since nothing there shows whether a run is alive.
func (b *Book) removeUnlocked(name string) {
	file, err := b.root.OpenFile(name, os.O_RDWR|syscall.O_NONBLOCK, 0)
	if err != nil {
		return
	}
	defer file.Close()
	if lockedNow(file) && stillNamed(b.root, name, file) {
		b.root.Remove(name)
	}
}

// heldNow reports whether a run is in the spool or in the logbook itself, and whether a
// process holds it, or may.
func (b *Book) heldNow(ctx context.Context, run string) (known, held bool) {
	if b.spool != nil {
		if known, held = b.spool.heldNow(ctx, run); known || b.Away() != nil {
			return known, held
		}
	}
	var id int64
	if b.db.QueryRowContext(ctx, "SELECT id FROM runs WHERE run = $1", run).Scan(&id) != nil {
		return false, false
	}
	held, err := b.engine.held(ctx, run, id)
	return true, held || err != nil
}

// abandoned reports whether nothing writes to a part of a clip any more: its run is known
// and not held, or no run is known and the part is old.
func (b *Book) abandoned(ctx context.Context, part string) bool {
	clip, _, _ := strings.Cut(part[1:], partOf)
	for end := range clip {
		if clip[end] != '-' {
			continue
		}
		if run := clip[:end]; ownClip(run, clip) {
			if known, held := b.heldNow(ctx, run); known {
				return !held
			}
		}
	}
	is, err := b.root.Lstat(part)
	return err == nil && time.Since(is.ModTime()) > partOfNoRun
}
