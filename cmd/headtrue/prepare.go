package main

import (
	"context"
	"errors"

	"headtrue/sweep"
)

func (j *job) closeRig() {
	if !j.keepRig {
		j.rig.Close()
	}
}

// prepare does all that comes before the run is begun.
func (j *job) prepare(ctx context.Context) (err error) {
	if err := j.openBook(); err != nil {
		return err
	}
	if !j.seated {
		if err := j.sitDown(ctx); err != nil {
			return err
		}
	}
	j.ambient, err = ambientOf(ctx, j.settings.Ambient)
	var mistyped *failure
	switch {
	case errors.As(err, &mistyped):
		return err
	case ctx.Err() != nil:
		return notBegun("reading the air at the bench was interrupted")
	case err != nil:
		j.cli.note("the air at the bench is not recorded: %v", err)
	}
	switch {
	case j.rig != nil: // kept from the run before
		return nil
	case j.virtual():
		j.rig, err = j.cli.openVirtual(ctx, j.bench, j.flags.virtual.seed, j.settings.Settings)
		return err
	}
	return j.openReal(ctx)
}

// sitDown is what comes once in a sitting: what the last run left is told, and the
// cautions are asked where a real screw will be turned.
func (j *job) sitDown(ctx context.Context) error {
	if !j.virtual() {
		if err := named(j.settings.Settings, j.soundOnly()); err != nil {
			return err
		}
	}
	if j.command == observeCommand { // again and again, with nobody there
		j.seated = true
		return nil
	}
	if j.book != nil {
		if err := j.cli.warnOfClock(j.book); err != nil {
			return err
		}
	}
	news, err := lastNews(j.book, j.virtual())
	if err != nil {
		return err
	}
	if news != "" {
		j.cli.note("%s", news)
	}
	j.seated = true
	if j.virtual() {
		return nil
	}
	j.hands = hands{person: j.cli.terminal(j.settings.Audio), itself: j.flags.itself}
	if j.soundOnly() {
		return nil
	}
	if j.cautions, err = j.cli.askCautions(ctx, j.hands.person, j.settings.Settings, news, j.flags.yes); err != nil {
		return err
	}
	return j.handsThere()
}

// openReal opens port and sound; the sound alone where nothing will be turned.
func (j *job) openReal(ctx context.Context) (err error) {
	if j.rig, err = openReal(ctx, j.settings.Settings, j.soundOnly()); err != nil {
		return err
	}
	if err := sweep.CheckTones(j.rig.sound.Rate(), j.plan.ToneHz, j.plan.FurtherTonesHz...); err != nil {
		j.rig.Close()
		return notReady("name a sound input of a higher rate, or ask for one by --audio-rate", "%w", err)
	}
	j.rig.sound.lost = func(frames int64) {
		j.cli.note("  !! %d frames were lost on the way from the sound device", frames)
	}
	return nil
}

// handsThere says whether somebody seats the blade: a motor must not turn on
// the word of a program that nobody heard.
func (j *job) handsThere() error {
	switch {
	case j.hands.itself || j.hands.person != nil:
		return nil
	case j.command == "check": // the cautions were accepted by --yes
		j.hands.itself = true
		return nil
	}
	return usage("nobody can be asked to seat the blade: run in a terminal, or say --blade-seats-itself where the jig does that")
}
