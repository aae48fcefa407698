package app

import (
	"context"
	"errors"

	"headtrue/sweep"
	"headtrue/sweep/logbook"
	"headtrue/sweep/record"
)

// ToProve finds the run to prove: the named one, or the newest that has set such a head, of a
// real deck or of this kept one.
func (j *Job) ToProve(args []string) (logbook.Record, error) {
	if err := j.onKept(); err != nil {
		return logbook.Record{}, err
	}
	if len(args) == 1 {
		rec, err := j.book.Load(args[0])
		return rec, WrongRun(j.book, args[0], err)
	}
	f := j.onThisBench(logbook.Filter{SetHead: true, Unit: j.Settings.Unit})
	if j.given("head") {
		f.Head = j.Settings.Head
	}
	rec, err := j.book.Newest(f)
	if errors.Is(err, logbook.ErrEmpty) {
		return rec, Wrong("no run in %s has set this %s head: there is nothing to prove", j.book.Where(), j.kind())
	}
	return rec, err
}

// TakeAsLeft makes the job a proof of a run.
func (j *Job) TakeAsLeft(rec logbook.Record) error {
	s, left := rec.Start(), rec.Left()
	switch {
	case s.ProofOf != "":
		return Wrong("run %s is a proof itself; name the run that set the head, %s", rec.Run, s.ProofOf)
	case left == nil || left.Released == nil || left.OffArcmin == nil:
		return Wrong("run %s has not measured the tilt as left: there is nothing to prove", rec.Run)
	}
	j.AsLeft = &sweep.AsLeftBaseline{Run: rec.Run, Left: *left}
	j.playTones(left.Released.ToneHz, left.Released.FurtherTonesHz)
	if d := rec.Decision(); d != nil {
		j.AsLeft.OptimumSDArcmin = d.Optimum.SDArcmin
	}
	j.fileUnder(s)
	return nil
}

// Prove carries out the proof.
func (j *Job) Prove(ctx context.Context) (record.End, error) {
	return j.Perform(ctx, func(ctx context.Context, s sweep.Setup) (record.End, error) {
		return sweep.Prove(ctx, s, *j.AsLeft)
	})
}
