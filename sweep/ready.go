package sweep

import (
	"cmp"
	"context"

	"headtrue/dsp"
	"headtrue/sweep/record"
	"headtrue/sweep/session"
)

// Verdicts of a check.
const (
	Pass    = "pass"
	Doubt   = "doubt"
	Fail    = "fail"
	Unknown = "unknown"
)

// readySeconds is the listening time of the ready step before anything moves.
const readySeconds = 3

// Ready does the ready step alone: link, sound, and the noise of the motor as it holds and
// steps. The blade must be off the screw; the motor turns a little and back. EndOf explains
// an error.
func Ready(ctx context.Context, s Setup) (record.Checks, error) {
	c := begin(s)
	c.Tell("ready", "checking link and sound")
	list, err := c.readiness(ctx)
	if stop := c.StandStill(); err != nil || stop != nil {
		err = &session.Halted{Cause: cmp.Or(err, stop), Stop: stop}
	}
	return record.Checks{Checks: list}, err
}

// trySeconds is the listening time of Try.
const trySeconds = 1

// Try listens whether there is a tape, without a jig, and returns the levels of the channels
// in dBFS. The error is the reason why a run could not use the sound.
func Try(ctx context.Context, s Setup) (levelDBFS [2]float64, err error) {
	s.Jig = nil // nothing can turn
	c := begin(s)
	r, raw, err := c.Hear(ctx, trySeconds)
	if err == nil {
		_, err = c.JudgeReady(r, raw)
	}
	if err == nil {
		err = c.checkPlayed(r)
	}
	return r.LevelDBFS, err
}

func (c *course) readiness(ctx context.Context) ([]record.Check, error) {
	list, r, err := c.checks(ctx)
	if err != nil || !c.HasJig() {
		return list, err
	}
	noise, err := c.motorNoise(ctx, r)
	return append(list, noise...), err
}

// ready is the short form at the start of every run: it returns an error if a check fails.
func (c *course) ready(ctx context.Context) error {
	c.Tell("ready", "checking jig and sound")
	list, _, err := c.checks(ctx)
	if err != nil {
		return err
	}
	if err := c.Save(record.Entry{Kind: record.KindChecks, Checks: &record.Checks{Checks: list}}); err != nil {
		return err
	}
	verdicts := map[string]int{}
	for _, ch := range list {
		verdicts[ch.Verdict]++
		switch {
		case ch.Verdict == Doubt:
			c.Warn("ready", "%s: %s; %s", ch.Name, ch.Found, ch.Do)
		case ch.Name == whatSets && c.HasJig():
			c.Tell("ready", "%s: %s", ch.Name, ch.Found)
		}
	}
	c.Tell("ready", "%d checks pass, %d in doubt, %d not possible on this tape", verdicts[Pass], verdicts[Doubt], verdicts[Unknown])
	return nil
}

// checks listens before anything moves. Unusable sound ends it with an error; every other
// result becomes a line of the table.
func (c *course) checks(ctx context.Context) ([]record.Check, dsp.Reading, error) {
	var list checkList
	if c.HasJig() {
		c.checkLink(&list)
	}
	if err := c.CatchUp(ctx); err != nil {
		return list, dsp.Reading{}, err
	}
	r, raw, by, err := c.HearByBothClocks(ctx, readySeconds)
	if err != nil {
		return list, raw, err
	}
	if by != nil {
		checkRate(&list, by.Sound, by.Jig)
	}
	why, trouble := c.JudgeReady(r, raw)
	if trouble != nil {
		list.words("sound", Fail, trouble.Error(), session.PlainEnd(trouble).Do)
		return list, raw, trouble
	}
	if trouble := c.checkPlayed(r); trouble != nil {
		list.words("what is played", Fail, trouble.Error(), session.PlainEnd(trouble).Do)
		return list, raw, trouble
	}
	if c.TrebleAlone {
		c.checkTrebleAlone(&list, why, r, raw)
		return list, raw, nil
	}
	c.checkLevels(&list, r, raw)
	if c.Plan.ToneHz > 0 {
		checkTone(&list, r, raw)
	} else {
		checkProgramme(&list, r, raw)
	}
	c.checkOutlook(&list, r)
	c.checkWhatSets(&list, r, raw)
	return list, raw, nil
}

// motorNoise compares the sound with the motor off, holding and stepping.
func (c *course) motorNoise(ctx context.Context, off dsp.Reading) ([]record.Check, error) {
	if err := c.Ask(ctx, session.BladeOff); err != nil {
		return nil, err
	}
	c.Tell("motor", "listening to the motor as it holds and steps")
	holding, err := c.HearHolding(ctx)
	if err != nil {
		return nil, err
	}
	var list checkList
	list.motor("noise, holding", off, holding)
	stepping, err := c.HearStepping(ctx)
	if err != nil {
		return list, err
	}
	list.motor("noise, stepping", off, stepping)
	return list, nil
}
