package session

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"syscall"

	"headtrue/dsp/audio"
	"headtrue/jig"
	"headtrue/sweep/record"
)

// Stop ends a run early. It states what happened in plain words, and what to do.
type Stop struct {
	Outcome record.Outcome
	Blame   record.Cause // where to look, if the outcome alone does not show it
	Say, Do string
	Cause   error
	// Passing means that the fault may pass while the tape runs on.
	Passing bool
	// DelayDoubted means that the delay may have changed its meaning since as found.
	DelayDoubted bool
}

func (s *Stop) Error() string { return s.Say }

func (s *Stop) Unwrap() error { return s.Cause }

// Halted is an error after which the motor was to be stopped. Stop is the reason why it may
// still turn, or nil.
type Halted struct{ Cause, Stop error }

func (h *Halted) Error() string { return h.Cause.Error() }

func (h *Halted) Unwrap() error { return h.Cause }

// EndOf returns the end of a run or check that an error broke off: its outcome, its sentence
// and the remedy. It adds whether the screw stands still if the rest does not show that.
func EndOf(err error) record.End {
	end := PlainEnd(err)
	var h *Halted
	switch {
	case !errors.As(err, &h):
	case h.Stop != nil:
		end.Say += "; " + notStopped(h.Stop)
		end.Do = "cut the motor's supply (without a host the jig stops by itself within half a second, if its firmware runs); then " + end.Do
	case end.Outcome == record.Interrupted, end.Outcome == record.SoundStopped, end.Outcome == record.TapeEnded:
		end.Say += "; the screw stands still"
	}
	return end
}

// notStopped describes the state of a motor after a failed stop.
func notStopped(why error) string {
	switch {
	case errors.Is(why, jig.ErrLinkLost), errors.Is(why, jig.ErrNoAnswer):
		return "the jig has not answered STOP: the screw may still turn"
	case errors.Is(why, jig.ErrOverdue):
		return "the jig has taken STOP but reports that the motor still turns"
	}
	return fmt.Sprintf("the motor could not be stopped and switched off: %v", why)
}

// PlainEnd converts the error that ended a run to an outcome with its sentence.
func PlainEnd(err error) record.End {
	var (
		st      *Stop
		reset   *jig.ResetError
		refused *jig.RefusedError
		stopped *jig.StoppedError
		lost    *jig.LostStepsError
	)
	end := func(o record.Outcome, do, format string, args ...any) record.End {
		return record.End{Outcome: o, Say: fmt.Sprintf(format, args...), Do: do}
	}
	switch {
	case errors.As(err, &st):
		return record.End{Outcome: st.Outcome, Cause: st.Blame, Say: st.Say, Do: st.Do}
	case errors.Is(err, context.Canceled), errors.Is(err, context.DeadlineExceeded):
		return end(record.Interrupted, "run restore to put the screw back, or align again from here",
			"stopped on request")
	case errors.As(err, &reset):
		return end(record.JigReset, "check the jig's supply and cable, then restore: it goes by the sound if the count is lost",
			"the jig started anew in the middle of the run (boot %d, before it %d); its motor stands still", reset.After, reset.Before)
	case errors.As(err, &stopped) && stopped.Reason == jig.ReasonSilence:
		return end(record.JigStopped, "make the buffers of the sound input smaller (well under half a second) and close other programs, then restore or align again",
			"the sound did not arrive for half a second, so the jig stopped the screw by itself")
	case supplyGone(err):
		return end(record.JigStopped, "switch the motor's supply on (the cut-off switch), then restore: it goes by the sound, as the count may be wrong",
			"the motor has lost its supply, or has none: %v", err)
	case errors.As(err, &stopped):
		return end(record.JigStopped, "clear what stopped it (stop button, limit, something that binds; never force the screw), then restore or align again",
			"the jig stopped by itself: %v", stopped)
	case errors.As(err, &lost):
		return end(record.JigStopped, "look for what binds or slips (never force the screw), then restore: the encoder corrects the count",
			"the screw has not followed the motor: %v", lost)
	case errors.As(err, &refused) && refused.Code == jig.StopHeld:
		return end(record.JigRefused, "let the stop button go; at a limit switch turn the screw the other way (headtrue jig nudge); an input that is not there must not be declared as fitted (headtrue jig configure)",
			"the jig refused an order: %v", refused)
	case errors.As(err, &refused):
		return end(record.JigRefused, "compare --window and the jig's profile with the jig",
			"the jig refused an order: %v", refused)
	case errors.Is(err, jig.ErrLinkLost):
		return end(record.LinkLost, "plug the cable in again and restore",
			"the cable to the jig is gone")
	case errors.Is(err, jig.ErrNoAnswer):
		return end(record.LinkLost, "check cable and supply, and restore",
			"the jig does not answer any more")
	case errors.Is(err, audio.ErrStopped):
		return end(record.SoundStopped, "check the sound device and its cable, then align again or restore",
			"the sound stopped arriving")
	case errors.Is(err, io.EOF):
		return end(record.TapeEnded, "rewind the tape, start it again and run align again, or restore",
			"the sound came to its end before the job was done")
	}
	return end(record.Failed, "see the message; the record is kept", "the run failed: %v", err)
}

// supplyGone reports whether a jig that senses its motor's supply ended a motion or refused an
// order because that is missing.
func supplyGone(err error) bool {
	var refused *jig.RefusedError
	var stopped *jig.StoppedError
	if errors.As(err, &refused) {
		return refused.Code == jig.NoSupply || refused.Code == jig.NotEnergised && refused.Status.Reason == jig.ReasonFault
	}
	return errors.As(err, &stopped) && stopped.Reason == jig.ReasonFault && stopped.Status.NoSupply
}

// notSaved returns the Stop for a record or clip that could not be written, or nil if err is
// nil.
func notSaved(what string, err error) error {
	if err == nil {
		return nil
	}
	return &Stop{
		Outcome: record.NotSaved,
		Say:     what + " could not be written: " + err.Error(),
		Do:      WhatToDoUnsaved(err) + "; what was measured before is kept",
		Cause:   err,
	}
}

// WhatToDoUnsaved returns the remedy for a write error, by its cause.
func WhatToDoUnsaved(err error) string {
	switch {
	case errors.Is(err, syscall.ENOSPC), errors.Is(err, syscall.EDQUOT), errors.Is(err, syscall.EFBIG):
		return "make room on the disk, or name a folder on another with --logbook"
	case errors.Is(err, fs.ErrPermission), errors.Is(err, syscall.EROFS):
		return "see that this user may write into the folder of the logbook, or name another with --logbook"
	case errors.Is(err, syscall.EIO):
		return "save what is on this disk, which fails, and name a folder on another with --logbook"
	}
	return "see the message, or name another folder with --logbook"
}
