package app

import (
	"context"
	"errors"
	"fmt"

	"headtrue/jig/fault"
	"headtrue/sweep"
	"headtrue/sweep/bench"
	"headtrue/sweep/record"
	"headtrue/sweep/session"
)

// Check checks whether jig, sound and tape are ready, with the blade off the screw. The checks
// are nil if the bench could not be opened; the error is the one that a run would end with.
func (j *Job) Check(ctx context.Context) (*record.Checks, error) {
	ctx, stop := j.front.Interruptible(ctx, "stopping the motor")
	defer stop()
	// A virtual bench seats its blade when the motor is energised; here it must not.
	j.Bench.Faults = append([]bench.Fault{{Kind: bench.BladeOut}}, j.Bench.Faults...)
	if err := j.prepare(ctx); err != nil {
		return nil, err
	}
	defer j.rig.Close()
	defer j.show()()
	j.watched = watch(j.front, j)
	s := sweep.Setup{Jig: j.rig.Jig, Sound: j.rig.Sound, Tell: j.watched.Publish, Readings: j.front.Live, Plan: j.Plan}
	if j.asksAsReal() {
		s.Ask = j.asker()
	}
	checks, failed := j.ready(ctx, s)
	j.watched.close()
	return &checks, checkEnd(ctx, checks, failed)
}

// ready carries out the checks. If the program itself crashes, the motor is stopped and
// switched off.
func (j *Job) ready(ctx context.Context, s sweep.Setup) (checks record.Checks, failed error) {
	defer fault.Recovered(func(broke error) {
		end := j.stopped(broke, s.Jig)
		failed = &session.Stop{Outcome: end.Outcome, Say: end.Say, Do: end.Do, Cause: broke}
	})
	return sweep.Ready(ctx, s)
}

// checkEnd is the error of a check; nil if nothing failed.
func checkEnd(ctx context.Context, checks record.Checks, failed error) error {
	switch {
	case ctx.Err() != nil:
		return &Failure{Outcome: record.Interrupted, Err: errors.New("stopped on request; the motor stands still")}
	case failed != nil:
		end := session.EndOf(failed)
		return &Failure{Outcome: end.Outcome, Err: errors.New(end.Say), Do: end.Do}
	}
	for _, c := range checks.Checks {
		if c.Verdict == sweep.Fail {
			return &Failure{Outcome: record.NotReady, Err: fmt.Errorf("not ready: %s: %s", c.Name, c.Found), Do: c.Do}
		}
	}
	return nil
}
