package logbook

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"time"

	"headtrue/sweep/record"
)

// Run is a run being written. Its methods may be called from several
// goroutines.
type Run struct {
	book *Book
	id   string
	sync func(*os.File) error

	mu     sync.Mutex
	file   *os.File
	length int64 // what has been acknowledged
	broken error // a failed sync: nothing after it can be trusted
}

// Begin starts a run: it chooses the name, sets it and the format's version in
// start, and makes the first line durable before it returns. Two runs that
// begin in one second, in one process or two, get different names.
func (b *Book) Begin(start record.Start) (*Run, error) {
	base := b.now().UTC().Format("20060102T150405Z")
	for n := 1; n < 1000; n++ {
		id := base
		if n > 1 {
			id = fmt.Sprintf("%s-%03d", base, n)
		}
		run, err := b.begin(id, start)
		if errors.Is(err, os.ErrExist) {
			continue
		}
		if err != nil {
			return nil, fmt.Errorf("begin run %s in the logbook: %w", id, err)
		}
		return run, nil
	}
	return nil, fmt.Errorf("begin a run in the logbook: no free name left for %s", base)
}

// begin writes the first line under a reserved name and renames it. While one
// process holds the reserved name no other can; after the rename the final
// name exists; so one of the two always tells a second process to move on.
func (b *Book) begin(id string, start record.Start) (_ *Run, err error) {
	temporary := b.path(id) + reserved
	file, err := os.OpenFile(temporary, os.O_CREATE|os.O_EXCL|os.O_RDWR, 0o644)
	if err != nil {
		return nil, err
	}
	defer func() {
		if err != nil {
			file.Close()
			os.Remove(temporary)
		}
	}()
	if _, err := os.Lstat(b.path(id)); err == nil {
		return nil, os.ErrExist
	}
	if err := lock(file); err != nil {
		return nil, err
	}
	run := &Run{book: b, id: id, sync: (*os.File).Sync, file: file}
	start.Run, start.Version = id, record.Version
	if err := run.Append(record.Entry{Kind: record.KindStart, Start: &start}); err != nil {
		return nil, err
	}
	if err := os.Rename(temporary, b.path(id)); err != nil {
		return nil, err
	}
	return run, syncFolder(b.dir)
}

// ID is the name of the run.
func (r *Run) ID() string { return r.id }

// Path is the file of the run.
func (r *Run) Path() string { return r.book.path(r.id) }

// Append sets the entry's time, adds it to the run and returns once it is
// durable. After an error the entry is not part of the record; what was
// acknowledged before stays readable. A line that could not be written (full
// disk) may be tried again; after a failed sync every later call fails, since
// the system no longer knows what reached the disk.
func (r *Run) Append(e record.Entry) error {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.broken != nil {
		return fmt.Errorf("save to %s: an earlier save failed: %w", r.id, r.broken)
	}
	e.At = r.book.now().UTC().Format(time.RFC3339Nano)
	line, err := json.Marshal(e)
	if err != nil {
		return fmt.Errorf("save to %s: a %s entry cannot be written as JSON: %w", r.id, e.Kind, err)
	}
	if _, err := r.file.WriteAt(append(line, '\n'), r.length); err != nil {
		// Best effort: a torn line left behind is dropped in reading as well.
		return errors.Join(fmt.Errorf("save to %s: %w", r.id, err), r.file.Truncate(r.length))
	}
	if err := r.sync(r.file); err != nil {
		r.broken = err
		return fmt.Errorf("save to %s: %w", r.id, err)
	}
	r.length += int64(len(line)) + 1
	return nil
}

// ClipPath is where a clip of sound of the run belongs: beside the record, its
// name beginning with the run's. The base name is what the record keeps.
func (r *Run) ClipPath(name string) string {
	return filepath.Join(r.book.dir, r.id+"-"+name+".wav")
}

// Close lets go of the file. It may be called more than once.
func (r *Run) Close() error {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.broken == nil {
		r.broken = errors.New("the run is closed")
		return r.file.Close()
	}
	if err := r.file.Close(); !errors.Is(err, os.ErrClosed) {
		return err
	}
	return nil
}
