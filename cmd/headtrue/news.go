package main

import (
	"context"
	"fmt"
	"slices"

	"headtrue/sweep/logbook"
	"headtrue/sweep/record"
)

// goodEnds are outcomes that leave nothing to tell.
var goodEnds = []record.Outcome{record.Aligned, record.Measured, record.Restored}

// lastNews says what the newest run on this kind of bench left behind, if that
// is something to know before the screw moves again; "" if not.
//
// Without a logbook there is none.
func lastNews(book *logbook.Book, onVirtual bool) (string, error) {
	if book == nil {
		return "", nil
	}
	for s, err := range book.List(context.Background(), logbook.Filter{Virtual: onVirtual, Real: !onVirtual}) {
		if err != nil {
			return "", err
		}
		if s.Command == observeCommand {
			continue // it turned nothing, and must not hide what did
		}
		last, err := book.Load(s.Run)
		if err != nil {
			return "", err
		}
		return newsOf(last), nil
	}
	return "", nil
}

func newsOf(r logbook.Record) string {
	end := r.End()
	if end != nil && slices.Contains(goodEnds, end.Outcome) {
		return ""
	}
	what := fmt.Sprintf("%s, run %s,", r.Start().Command, r.Run)
	switch {
	case r.Running:
		return "Another headtrue is still at work: " + what + " has not ended. Two must not turn one screw.\n"
	case end == nil && r.Found() == nil:
		return "The last run, " + what + " was cut off before anything moved.\n"
	case end == nil:
		what = "The last run, " + what + " was cut off: its record has no end, and where the screw stands is not known from it.\n"
	default:
		what = fmt.Sprintf("The last run, %s ended with %q: %s.\n", what, end.Outcome, end.Say)
		if end.Do != "" {
			what += fmt.Sprintf("  What to do: %s.\n", end.Do)
		}
	}
	if r.Found() == nil {
		return what
	}
	if r.Start().Virtual != "" {
		return what + "  That bench was virtual and is gone; there is nothing to put right.\n"
	}
	back := r.Run
	if of := r.Start().RestoreOf; of != "" {
		back = of
	}
	return what + fmt.Sprintf("  The way back to as found: headtrue restore %s\n", back)
}
