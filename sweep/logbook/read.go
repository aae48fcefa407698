package logbook

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"headtrue/sweep/record"
)

// Record is a run as read back.
type Record struct {
	Run     string
	Entries []record.Entry
	// Torn says that the last line was incomplete and has been dropped: the
	// process was killed, or the disk was full, in the middle of it. It had not
	// been acknowledged.
	Torn bool
	// Running says that a process still has the run open. Systems without file
	// locks never say so.
	Running bool
}

// NewerError says that a run was written in a newer format.
type NewerError struct {
	Run     string
	Version int
}

func (e *NewerError) Error() string {
	return fmt.Sprintf("run %s is in format %d, and this program reads formats up to %d: use the newer program",
		e.Run, e.Version, record.Version)
}

// DamagedError says which line of a run cannot be read.
type DamagedError struct {
	Run  string
	Line int
	Err  error
}

func (e *DamagedError) Error() string {
	return fmt.Sprintf("run %s: line %d cannot be read: %v", e.Run, e.Line, e.Err)
}

func (e *DamagedError) Unwrap() error { return e.Err }

// Read reads the file of one run; Load says which errors to expect.
func Read(path string) (Record, error) {
	rec := Record{Run: strings.TrimSuffix(filepath.Base(path), extension)}
	file, err := os.Open(path)
	if err != nil {
		return rec, fmt.Errorf("read run %s: %w", rec.Run, err)
	}
	defer file.Close()
	rec.Running = locked(file)
	text, err := os.ReadFile(path)
	if err != nil {
		return rec, fmt.Errorf("read run %s: %w", rec.Run, err)
	}
	lines, torn := completeLines(text)
	rec.Torn = torn
	for i, line := range lines {
		var e record.Entry
		if err := json.Unmarshal(line, &e); err != nil {
			if i == len(lines)-1 && i > 0 {
				rec.Torn = true // a power cut can leave a whole line of rubbish
				break
			}
			return rec, &DamagedError{rec.Run, i + 1, err}
		}
		if e.Start != nil && e.Start.Version > record.Version {
			return rec, &NewerError{rec.Run, e.Start.Version}
		}
		rec.Entries = append(rec.Entries, e)
	}
	if rec.Start() == nil {
		return rec, &DamagedError{rec.Run, 1, errors.New("the run does not begin with a start entry")}
	}
	return rec, nil
}

// completeLines cuts the text at its line ends; torn says that something
// without a line end was left over.
func completeLines(text []byte) (lines [][]byte, torn bool) {
	end := bytes.LastIndexByte(text, '\n')
	if torn = end != len(text)-1; end < 0 {
		return nil, torn
	}
	return bytes.Split(text[:end], []byte{'\n'}), torn
}

// Start is the first entry, nil where there is none.
func (r Record) Start() *record.Start {
	if len(r.Entries) == 0 {
		return nil
	}
	return r.Entries[0].Start
}

// Found is the state before the first move as it was known last: it is saved
// before the blade is seated and again after that. It is nil where the run ended
// earlier.
func (r Record) Found() *record.Found {
	for i := len(r.Entries) - 1; i >= 0; i-- {
		if f := r.Entries[i].Found; f != nil {
			return f
		}
	}
	return nil
}

// Decision is the last decision, nil where none was reached.
func (r Record) Decision() *record.Decision {
	for i := len(r.Entries) - 1; i >= 0; i-- {
		if d := r.Entries[i].Decision; d != nil {
			return d
		}
	}
	return nil
}

// Left is the last state after the work, nil where the run ended earlier.
func (r Record) Left() *record.Left {
	for i := len(r.Entries) - 1; i >= 0; i-- {
		if l := r.Entries[i].Left; l != nil {
			return l
		}
	}
	return nil
}

// End closes the run, nil where it was cut off.
func (r Record) End() *record.End {
	for i := len(r.Entries) - 1; i >= 0; i-- {
		if e := r.Entries[i].End; e != nil {
			return e
		}
	}
	return nil
}

// TapeSeconds is the sound consumed by the last entry, in seconds.
func (r Record) TapeSeconds() float64 {
	if len(r.Entries) == 0 {
		return 0
	}
	return r.Entries[len(r.Entries)-1].TapeSeconds
}
