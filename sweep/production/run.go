package production

import (
	"errors"
	"fmt"
	"time"

	"headtrue/sweep/record"
)

// Run is the part of a run that a batch needs.
type Run struct {
	Start        record.Start
	Begun, Ended time.Time  // Ended is the time of the last entry
	End          record.End // without an outcome if the run was cut off
	Note         string
	TapeSeconds  *float64
	Found        *record.Found
	Decision     *record.Decision
	Left         *record.Left
}

// RunOf reads a Run from the entries of the run.
func RunOf(entries []record.Entry) (r Run, err error) {
	if len(entries) == 0 || entries[0].Start == nil {
		return r, errors.New("a run begins with a start entry")
	}
	r.Start = *entries[0].Start
	for _, e := range entries {
		if r.Ended, err = time.Parse(time.RFC3339Nano, e.At); err != nil {
			return r, fmt.Errorf("run %s: %w", r.Start.Run, err)
		}
		if e.Start != nil {
			r.Begun = r.Ended
		}
		if e.TapeSeconds > 0 {
			r.TapeSeconds = &e.TapeSeconds
		}
		switch {
		case e.Found != nil:
			r.Found = e.Found
		case e.Decision != nil:
			r.Decision = e.Decision
		case e.Left != nil:
			r.Left = e.Left
		case e.Note != nil:
			r.Note = e.Note.Text
		case e.End != nil:
			r.End = *e.End
		}
	}
	return r, nil
}

// brokenOff reports whether the run ended without result, through no fault of the unit.
func (r Run) brokenOff() bool { return r.End.Outcome == "" || r.End.Outcome == record.Interrupted }
