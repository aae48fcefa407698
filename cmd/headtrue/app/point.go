package app

import (
	"context"
	"errors"
	"fmt"
	"time"

	"headtrue/cmd/headtrue/app/shell"
	"headtrue/sweep"
	"headtrue/sweep/logbook"
	"headtrue/sweep/record"
)

// commandPatience is the time limit of the user's start and stop commands.
const commandPatience = time.Minute

// Follow measures the remaining points of a schedule, each at its time.
func (j *Job) Follow(ctx context.Context, c Clock, plan Schedule) error {
	done, err := PointsOf(ctx, j.book, plan.Study)
	if err != nil {
		return err
	}
	if err := j.standsWell(plan); err != nil {
		return err
	}
	return plan.follow(ctx, c, done, j.front.Note, func(n int) error {
		if err := j.standsWell(plan); err != nil {
			return err
		}
		if err := j.forPoint(plan, n).point(ctx, plan); err != nil {
			return err
		}
		return j.standsWell(plan)
	})
}

// forPoint returns the job of one point.
func (j *Job) forPoint(plan Schedule, n int) *Job {
	one := *j
	one.Study, one.Trial, one.rig, one.run, one.clips = plan.Study, n, nil, nil, nil
	one.sitting = &sitting{}
	one.Seed += uint64(n)
	if j.Lapse != nil {
		j.Lapse.age(&one)
	}
	return &one
}

// point measures once. It starts the tape before and always stops it after.
func (j *Job) point(ctx context.Context, plan Schedule) error {
	stop, err := command(ctx, plan.StartCommand)
	defer func() {
		if _, err := command(context.WithoutCancel(ctx), plan.StopCommand); err != nil {
			j.front.Note("the stop command failed: %v", err)
		}
		stop() // ends what the start command has left running
	}()
	if err != nil {
		err = fmt.Errorf("the start command failed: %w", err)
	} else {
		do := Work(sweep.Observe)
		if plan.Turn {
			do = func(ctx context.Context, s sweep.Setup) (record.End, error) { return sweep.Gauge(ctx, s, 1) }
		}
		var end record.End
		if end, err = j.Perform(ctx, do); err == nil {
			j.front.Note("point %d of %d: %s", j.Trial, plan.Points, end.Say)
		}
	}
	if ctx.Err() != nil {
		return ctx.Err()
	}
	if err == nil || j.run != nil { // the failure is already in the record
		return err
	}
	return j.missed(err)
}

// standsWell refuses to turn the screw unattended if the last run may have left it
// elsewhere.
func (j *Job) standsWell(plan Schedule) error {
	if !plan.Turn {
		return nil
	}
	last, err := j.lastTurned()
	if errors.Is(err, logbook.ErrEmpty) {
		return nil
	}
	if err != nil {
		return err
	}
	if !endedWell(last) && last.Found() != nil {
		return NotReady("look at the bench; headtrue restore "+last.Run+", or any run that ends well, lets the study go on",
			"run %s may have left the screw elsewhere: it is not turned any further with nobody there", last.Run)
	}
	return nil
}

// command runs a start or stop command; stop ends whatever the command has left running.
func command(ctx context.Context, text string) (stop func(), err error) {
	if text == "" {
		return func() {}, nil
	}
	return shell.Launch(ctx, commandPatience, text)
}

// missed records a point that could not begin, with the reason.
func (j *Job) missed(why error) error {
	var f *Failure
	if errors.As(why, &f) && (f.Outcome == "" || f.Outcome == record.NotSaved) {
		return why
	}
	j.front.Note("point %d is missed: %v", j.Trial, why)
	run, err := j.book.Begin(j.Start())
	if err != nil {
		return &Failure{Outcome: record.NotSaved, Err: err}
	}
	end := record.End{Outcome: record.NotReady, Say: why.Error()}
	return errors.Join(run.Append(record.Entry{Kind: record.KindEnd, End: &end}), run.Close())
}

// DriftOff is the result of a point of a drift study; nil if the point was missed.
func DriftOff(s logbook.Summary) *float64 {
	if s.Command == CommandSearch {
		return s.FoundOffArcmin
	}
	return s.LeftOffArcmin
}
