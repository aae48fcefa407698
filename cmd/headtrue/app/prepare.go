package app

import (
	"context"
	"errors"

	"headtrue/sweep/session"
)

func (j *Job) closeRig() {
	if !j.KeepRig {
		j.rig.Close()
	}
}

// prepare does all that comes before the run is begun.
func (j *Job) prepare(ctx context.Context) (err error) {
	if err := j.OpenBook(); err != nil {
		return err
	}
	if !j.sitting.begun {
		if err := j.sitDown(ctx); err != nil {
			return err
		}
		j.sitting.begun = true
	}
	j.ambient, err = ambientOf(ctx, j.Settings.Ambient)
	var mistyped *Failure
	switch {
	case errors.As(err, &mistyped):
		return err
	case ctx.Err() != nil:
		return NotBegun("reading the air at the bench was interrupted")
	case err != nil:
		j.front.Note("the air at the bench is not recorded: %v", err)
	}
	switch {
	case j.rig != nil: // kept from the run before
		return nil
	case j.IsVirtual():
		j.rig, err = j.openVirtual(ctx)
		return err
	}
	return j.openReal(ctx)
}

// sitDown is what comes once in a sitting: what the last run left is told, and the
// cautions are asked if a real screw is to be turned.
func (j *Job) sitDown(ctx context.Context) error {
	if !j.IsVirtual() {
		if err := named(j.Settings.Settings, j.soundOnly()); err != nil {
			return err
		}
	}
	if j.Command == CommandDrift { // again and again, with nobody there
		return nil
	}
	if j.book != nil {
		if err := j.warnOfClock(); err != nil {
			return err
		}
	}
	news, err := lastNews(j.book, j.IsVirtual())
	if err != nil {
		return err
	}
	if news != "" {
		j.front.Note("%s", news)
	}
	if j.IsVirtual() {
		return nil
	}
	j.sitting.hands = hands{ask: j.front.Ask, itself: j.BladeSeatsItself}
	if j.soundOnly() {
		return nil
	}
	if j.sitting.cautions, err = j.askCautions(ctx, news); err != nil {
		return err
	}
	return j.handsThere()
}

// openReal opens port and sound; or the sound alone if nothing will be turned.
func (j *Job) openReal(ctx context.Context) (err error) {
	if j.rig, err = OpenReal(ctx, j.Settings.Settings, j.soundOnly()); err != nil {
		return err
	}
	if err := session.CheckTones(j.rig.Sound.Rate(), j.Plan.ToneHz, j.Plan.FurtherTonesHz...); err != nil {
		j.rig.Close()
		return NotReady("name a sound input of a higher rate, or ask for one by --audio-rate", "%w", err)
	}
	j.rig.Sound.lost = func(frames int64) {
		j.front.Note("  !! %d frames were lost on the way from the sound device", frames)
	}
	return nil
}

// handsThere says whether somebody seats the blade: a motor must not turn on
// the word of a program that nobody heard.
func (j *Job) handsThere() error {
	switch {
	case j.sitting.hands.itself || j.sitting.hands.ask != nil:
		return nil
	case j.Unrecorded: // a check: the cautions were accepted beforehand
		j.sitting.hands.itself = true
		return nil
	}
	return Wrong("nobody can be asked to seat the blade: run in a terminal, or say --blade-seats-itself where the jig does that")
}
