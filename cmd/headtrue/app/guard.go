package app

import (
	"context"
	"errors"
	"fmt"
	"time"

	"headtrue/jig"
	"headtrue/jig/fault"
	"headtrue/sweep"
	"headtrue/sweep/record"
	"headtrue/sweep/session"
)

// whole carries out the work of a run. If the program itself crashes, the motor is stopped
// and switched off and the record is closed, as after any other error.
func (j *Job) whole(ctx context.Context, do Work, s sweep.Setup) (end record.End, err error) {
	defer fault.Recovered(func(broke error) { end, err = j.broken(broke, s) })
	return do(ctx, s)
}

// closingPatience is the time limit for closing the record of a run after a crash: a lock
// that it needs may never be released.
const closingPatience = 5 * time.Second

// broken stops the motor after a crash and closes the record.
func (j *Job) broken(broke error, s sweep.Setup) (record.End, error) {
	end := j.stopped(broke, s.Jig)
	end.RestoreCommand = s.RestoreCommand
	saved := make(chan error, 1)
	go func() { // ends with the entry, or with the program
		defer fault.Recovered(func(err error) { saved <- err })
		saved <- s.Save(record.Entry{Kind: record.KindEnd, End: &end})
	}()
	select {
	case err := <-saved:
		return end, err
	case <-time.After(closingPatience):
		return end, errors.New("the record could not be closed")
	}
}

// stopped shows a crash, stops the motor, and returns the end with the place of the screw.
func (j *Job) stopped(broke error, of *jig.Jig) record.End {
	j.front.Fault(broke)
	end := session.EndOf(broke)
	if of == nil {
		return end
	}
	if err := j.standStill(of); err != nil {
		end.Say += fmt.Sprintf("; the motor could not be stopped and switched off: %v", err)
		end.Do = "cut the motor's supply (without a host the jig stops by itself within half a second)"
	} else {
		end.Say += "; the screw stands still"
	}
	if st, err := of.Status(context.Background()); err == nil {
		end.ScrewDeg, end.ScrewCertain = float64(st.Position), !st.Moving && st.Memory == jig.Kept
	}
	return end
}

// standStill stops the motor, waits until it is at rest and switches it off.
func (j *Job) standStill(of *jig.Jig) error {
	halt := of.Halt()
	_, err := of.StandStill(context.Background(), j.hearOn)
	if err := errors.Join(halt, err); err != nil {
		return err
	}
	return of.Release(context.Background())
}

// hearOn reads one block of sound, which advances the time of a virtual jig.
func (j *Job) hearOn(ctx context.Context) (err error) {
	defer fault.Recovered(func(broke error) { err = broke })
	_, err = j.rig.Sound.Next(ctx)
	return err
}
