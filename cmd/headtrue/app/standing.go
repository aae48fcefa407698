package app

import (
	"context"
	"math"
	"os"

	"headtrue/cmd/headtrue/settings"
	"headtrue/sweep"
	"headtrue/sweep/bench"
	"headtrue/sweep/bound"
	"headtrue/sweep/logbook"
	"headtrue/sweep/record"
)

// Standing is the error of this program on the virtual bench, beside the bound for the same
// length of tape. If no run has set the head, all but Runs is zero.
type Standing struct {
	Runs, Set       int // alignments, and the number of them that set the head
	ErrorRMSArcmin  float64
	MeanTapeSeconds float64
	BoundArcmin     float64 // for a tape of that length
}

// Stand aligns virtual decks one after the other, each with its own bench and seed.
func Stand(ctx context.Context, front Front, loaded settings.Loaded, runs int, seed uint64, benchOf func(seed uint64) (bench.Profile, error), tape bound.Tape) (*Standing, error) {
	dir, err := os.MkdirTemp("", "headtrue-limits-")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	book, err := logbook.Open(dir, "")
	if err != nil {
		return nil, err
	}
	defer book.Close()
	loaded.OnVirtual()
	s := &Standing{Runs: runs}
	var squares, seconds float64
	for i := range runs {
		r := stood{seed: seed + uint64(i)}
		profile, err := benchOf(r.seed)
		if err == nil {
			err = r.align(ctx, front, loaded, profile, book)
		}
		if err != nil {
			return nil, err
		}
		front.Note("seed %d: %s, %+.2f' off the truth after %.1f s of tape", r.seed, r.outcome, r.offArcmin, r.tapeSeconds)
		if r.outcome.HeadSet() {
			s.Set++
			squares += r.offArcmin * r.offArcmin
			seconds += r.tapeSeconds
		}
	}
	if s.Set > 0 {
		n := float64(s.Set)
		rms, mean := math.Sqrt(squares/n), seconds/n
		s.ErrorRMSArcmin, s.MeanTapeSeconds, s.BoundArcmin = rms, mean, tape.Limits(mean).Both
	}
	return s, nil
}

// stood is the result of one virtual alignment.
type stood struct {
	seed                   uint64
	outcome                record.Outcome
	offArcmin, tapeSeconds float64
}

// align aligns one virtual deck.
func (r *stood) align(ctx context.Context, front Front, loaded settings.Loaded, profile bench.Profile, book *logbook.Book) error {
	j := &Job{Order: Order{Command: "limits", Settings: loaded, Virtual: "default", Seed: r.seed, Unnamed: true},
		Plan: planOf(loaded), Bench: profile, front: front, book: book, sitting: &sitting{}}
	end, err := j.Perform(ctx, func(ctx context.Context, s sweep.Setup) (record.End, error) {
		s.Clip, s.Tell = nil, nil
		end, err := sweep.Align(ctx, s)
		r.offArcmin = j.rig.Bench.Truth().ErrorArcmin
		return end, err
	})
	if err != nil {
		return err
	}
	if end.Outcome == record.Interrupted {
		return Ended(end)
	}
	entries, err := j.Entries()
	if err != nil {
		return err
	}
	r.outcome, r.tapeSeconds = end.Outcome, TapeUsed(entries)
	return nil
}

// TapeUsed is the tape used by a run, in seconds: up to the last block of as left, or to the
// block at which the run broke off.
func TapeUsed(entries []record.Entry) (seconds float64) {
	for _, e := range entries {
		if e.TapeSeconds > 0 {
			seconds = e.TapeSeconds
		}
	}
	return seconds
}
