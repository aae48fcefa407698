package main

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"headtrue/sweep"
	"headtrue/sweep/logbook"
	"headtrue/sweep/record"
)

// commandPatience is how long the user's start and stop commands may take.
const commandPatience = time.Minute

// forPoint is the job of one point.
func (j *job) forPoint(plan schedule, n int) *job {
	one := *j
	one.study, one.trial, one.rig, one.run, one.clips = plan.Study, n, nil, nil, nil
	one.flags.virtual.seed += uint64(n)
	return &one
}

// point measures once: the tape is started before, and stopped after, whatever comes.
func (j *job) point(ctx context.Context, plan schedule) error {
	stop, err := command(ctx, plan.StartCommand)
	defer func() {
		if _, err := command(context.WithoutCancel(ctx), plan.StopCommand); err != nil {
			j.cli.note("the stop command failed: %v", err)
		}
		stop() // what the start command has left running
	}()
	if err != nil {
		err = fmt.Errorf("the start command failed: %w", err)
	} else {
		do := work(sweep.Observe)
		if plan.Turn {
			do = func(ctx context.Context, s sweep.Setup) (record.End, error) { return sweep.Gauge(ctx, s, 1) }
		}
		var end record.End
		if end, err = j.perform(ctx, do); err == nil {
			j.cli.note("point %d of %d: %s", j.trial, plan.Points, end.Say)
		}
	}
	if ctx.Err() != nil {
		return ctx.Err()
	}
	if err == nil || j.run != nil { // what there is to say stands in the record
		return err
	}
	return j.missed(err)
}

// standsWell refuses to turn with nobody there after a run that may have left the
// screw elsewhere.
func (j *job) standsWell(plan schedule) error {
	if !plan.Turn {
		return nil
	}
	last, err := lastTurned(j.book, j.virtual())
	if errors.Is(err, logbook.ErrEmpty) {
		return nil
	}
	if err != nil {
		return err
	}
	if !endedWell(last) && last.Found() != nil {
		return notReady("look at the bench; headtrue restore "+last.Run+", or any run that ends well, lets the study go on",
			"run %s may have left the screw elsewhere: it is not turned any further with nobody there", last.Run)
	}
	return nil
}

// command carries out a start or stop command; stop ends what it has left running.
func command(ctx context.Context, text string) (stop func(), err error) {
	if text == "" {
		return func() {}, nil
	}
	return launch(ctx, commandPatience, text)
}

// missed records a point that could not be begun, and why.
func (j *job) missed(why error) error {
	var f *failure
	if errors.As(why, &f) && slices.Contains([]int{exitUsage, exitOf(record.NotSaved)}, f.code) {
		return why
	}
	j.cli.note("point %d is missed: %v", j.trial, why)
	run, err := j.book.Begin(j.start())
	if err != nil {
		return &failure{code: exitOf(record.NotSaved), err: err}
	}
	end := record.End{Outcome: record.NotReady, Say: why.Error()}
	return errors.Join(run.Append(record.Entry{Kind: record.KindEnd, End: &end}), run.Close())
}
