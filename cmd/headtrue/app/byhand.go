package app

import (
	"context"
	"errors"

	"headtrue/cmd/headtrue/app/cues"
	"headtrue/sweep"
	"headtrue/sweep/record"
)

// Align is the work that sets a head: by the jig, or by hand.
func (j *Job) Align() Work {
	if j.ByHand {
		return sweep.AlignByHand
	}
	return sweep.Align
}

// Restore is the work that undoes the past run: by the jig, or by hand.
func (j *Job) Restore() Work {
	return func(ctx context.Context, s sweep.Setup) (record.End, error) {
		if j.ByHand {
			return sweep.RestoreByHand(ctx, s, *j.Past)
		}
		return sweep.Restore(ctx, s, *j.Past)
	}
}

// withCues lets the person who turns the screw hear the requests of a run. Without an output
// for them the run goes on: the words on the screen say the same. stop ends the sounds.
func (j *Job) withCues(ctx context.Context, s *sweep.Setup) (stop func(), err error) {
	none := func() {}
	if !j.ByHand || j.AsLeft != nil || j.Cue == cues.Off || j.IsVirtual() && !j.CueGiven {
		return none, nil
	}
	player, err := cues.Open(ctx, cues.Order{Output: j.CueOutput, Mode: j.Cue, Input: j.Settings.Audio}, j.front.Note)
	switch {
	case err == nil:
		s.Sound = player.Listen(s.Sound)
		player.Follow(j.watched.Reader())
		return player.Close, nil
	case j.CueGiven && errors.Is(err, cues.ErrSameDevice):
		return none, Wrong("%w (--cue-output)", err)
	}
	j.front.Note("No cues are played: %v", err)
	return none, nil
}
