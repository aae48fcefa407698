package exchange

import (
	"errors"
	"fmt"
	"io"
	"iter"

	"headtrue/sweep/record"
)

// maxRunBytes limits the size of one run in a file, hundreds of times the usual size.
const maxRunBytes = 32 << 20

// Run is a run from a file: its entries, or the error in one of them.
type Run struct {
	Name    string
	Entries []record.Entry
	Err     error

	bytes int
}

// Runs yields the runs of a file, one at a time. A run with a bad row has that error and
// no entries; the next run follows. A second return value that is not nil ends the file.
func Runs(from Reader) iter.Seq2[Run, error] {
	return func(yield func(Run, error) bool) {
		var run *Run
		done := func() bool { return run == nil || yield(*run, nil) }
		for {
			row, err := from.Read()
			var wrong *RowError
			switch {
			case errors.As(err, &wrong):
				row.Run = wrong.Run
			case errors.Is(err, io.EOF):
				done()
				return
			case err != nil:
				yield(Run{}, err) // the present run may be incomplete
				return
			}
			if run == nil || row.Run != run.Name || row.Entry.Start != nil && len(run.Entries) > 0 {
				if !done() {
					return
				}
				run = &Run{Name: row.Run}
			}
			run.add(row, err)
		}
	}
}

// add adds a row. After an error it drops the entries of the run.
func (r *Run) add(row Row, err error) {
	if r.Err != nil {
		return
	}
	if err == nil {
		if err = row.Entry.Valid(); err != nil {
			err = fmt.Errorf("entry %d, %.20s: %w", len(r.Entries), row.Entry.Kind, err)
		}
	}
	switch r.bytes += row.Bytes; {
	case err != nil:
	case row.Entry.Start != nil && row.Entry.Start.Run != r.Name:
		err = fmt.Errorf("its start is that of run %.80q", row.Entry.Start.Run)
	case r.bytes > maxRunBytes || len(r.Entries) >= record.MaxEntries:
		err = fmt.Errorf("more than %d entries or %d MB", record.MaxEntries, maxRunBytes>>20)
	}
	if err != nil {
		r.Err, r.Entries = err, nil
		return
	}
	r.Entries = append(r.Entries, row.Entry)
}
