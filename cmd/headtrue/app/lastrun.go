package app

import (
	"context"
	"errors"
	"fmt"
	"iter"
	"slices"
	"time"

	"headtrue/sweep/logbook"
	"headtrue/sweep/record"
	"headtrue/sweep/sheet"
)

// lastNews reports what the newest run that may have turned a screw on this kind of bench, or
// on this kept deck, left behind, if the person must read it before the screw moves again;
// otherwise "". It returns "" if there is no logbook.
func (j *Job) lastNews() (string, error) {
	if j.book == nil {
		return "", nil
	}
	last, err := j.lastTurned()
	if errors.Is(err, logbook.ErrEmpty) {
		return "", nil
	}
	if err != nil {
		return "", err
	}
	return newsOf(last), nil
}

// warnOfClock warns if the clock is earlier than the last run written here.
func (j *Job) warnOfClock() error {
	by, run, err := j.book.Behind()
	if err != nil || by < time.Minute {
		return err
	}
	j.front.Note("The clock of this computer is %v earlier than run %s, the last one in the logbook. Set it right if it is wrong: reports go by the clock.", by, run)
	return nil
}

// newsPatience is the time limit for reading the logbook.
const newsPatience = 10 * time.Second

// runsHere goes through the runs written on this bench, the newest first. If the logbook's
// server is unreachable, which was reported when the logbook was opened, these are the runs
// that the bench still holds itself.
func runsHere(ctx context.Context, book *logbook.Book, f logbook.Filter) iter.Seq2[logbook.Summary, error] {
	f.Here = true
	return func(yield func(logbook.Summary, error) bool) {
		for s, err := range book.List(ctx, f) {
			var away *logbook.AwayError
			if errors.As(err, &away) || !yield(s, err) {
				return
			}
		}
	}
}

// onThisBench limits a filter to runs on this kind of bench, or on this kept deck.
func (j *Job) onThisBench(f logbook.Filter) logbook.Filter {
	f.Virtual, f.Real = j.IsVirtual(), !j.IsVirtual()
	f.Bench = j.deck.Identity()
	return f
}

// lastTurned is the newest run on this kind of bench, or on this kept deck. It skips runs that
// turned nothing: they must not hide what an earlier run left.
func (j *Job) lastTurned() (logbook.Record, error) {
	ctx, cancel := context.WithTimeout(context.Background(), newsPatience)
	defer cancel()
	for s, err := range runsHere(ctx, j.book, j.onThisBench(logbook.Filter{})) {
		if err != nil {
			return logbook.Record{}, err
		}
		if s.Command != CommandDrift && s.ProofOf == "" && s.Outcome != record.TakenOut {
			return j.book.Load(s.Run)
		}
	}
	return logbook.Record{}, logbook.ErrEmpty
}

func newsOf(r logbook.Record) string {
	end := r.End()
	if endedWell(r) {
		return ""
	}
	what := fmt.Sprintf("%s, run %s,", r.Start().Command, r.Run)
	switch {
	case r.Running:
		return "Another headtrue is still at work: " + what + " has not ended. Two must not turn one screw.\n"
	case end == nil && r.Found() == nil:
		return "The last run, " + what + " was cut off before anything moved.\n"
	case end == nil:
		what = "The last run, " + what + " was cut off: its record has no end, and does not show where the screw stands.\n"
	default:
		what = fmt.Sprintf("The last run, %s ended with %q: %s.\n", what, end.Outcome, end.Say)
		if end.Do != "" {
			what += fmt.Sprintf("  What to do: %s.\n", end.Do)
		}
	}
	if r.Found() == nil {
		return what
	}
	if end != nil && end.ScrewOffDeg != nil {
		what += "  " + sheet.NotSet(*end) + "\n"
	}
	kept := ""
	switch s := r.Start(); {
	case s.Virtual == "" && r.Found().ByHand:
		kept = " --by-hand"
	case s.Virtual != "" && s.Bench != "":
		kept = " --virtual=" + quoted(s.Virtual)
	case s.Virtual != "":
		return what + "  Its bench was virtual and has ended: nothing is left to do.\n"
	}
	if end != nil && end.PutBack && end.RestoreCommand == "" {
		return what
	}
	back := r.Run
	if of := r.Start().RestoreOf; of != "" {
		back = of
	}
	return what + fmt.Sprintf("  The way back to as found: headtrue restore %s%s\n", back, kept)
}

func endedWell(r logbook.Record) bool {
	end := r.End()
	return end != nil && end.Outcome.Good()
}

// usualRuns is how many earlier runs say how much tape one takes.
const usualRuns = 9

// UsualTape is how much tape the newest runs like this one took, in seconds: the median of those
// that came to their end; nil if there are none.
func (j *Job) UsualTape(ctx context.Context) *float64 {
	if j.book == nil {
		return nil
	}
	ctx, cancel := context.WithTimeout(ctx, newsPatience)
	defer cancel()
	var seconds []float64
	for s, err := range j.book.List(ctx, logbook.Filter{Command: j.Command, Real: !j.IsVirtual(), Virtual: j.IsVirtual(), Limit: 4 * usualRuns}) {
		if err == nil && s.Outcome.Finished() && len(seconds) < usualRuns {
			seconds = append(seconds, s.TapeSeconds)
		}
	}
	if len(seconds) == 0 {
		return nil
	}
	slices.Sort(seconds)
	return &seconds[len(seconds)/2]
}
