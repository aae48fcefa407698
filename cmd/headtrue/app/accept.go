package app

import (
	"context"
	"errors"
	"fmt"

	"headtrue/cmd/headtrue/app/cautions"
	"headtrue/jig/fault"
	"headtrue/sweep"
	"headtrue/sweep/record"
	"headtrue/sweep/session"
)

// cautions are those before what the job does.
func (j *Job) cautions() string {
	switch {
	case j.ByHand:
		return cautions.Before(cautions.Screwdriver, 0)
	case j.Command == "check":
		return cautions.Before(cautions.Check, 0)
	case j.Past != nil:
		return cautions.Before(cautions.Restore, j.Settings.WindowDeg)
	case j.Plan.StepDeg > 0: // a sweep goes no further than its range
		return cautions.Before(cautions.Align, max(-j.Plan.FromDeg, j.Plan.ToDeg))
	}
	return cautions.Before(cautions.Align, j.Settings.WindowDeg)
}

// somebodyThere shows the cautions if they will not be asked. It checks that somebody accepts
// them, and that somebody seats the blade: the motor must not turn if nobody can read the
// prompts.
func (j *Job) somebodyThere() error {
	if j.front.Ask == nil || j.Accepted {
		j.front.Note("%s", j.cautions())
	}
	switch {
	case j.front.Ask == nil && !j.Accepted:
		return Wrong("nobody can be asked about the cautions: run in a terminal, or accept them with --yes")
	case j.ByHand || j.sitting.hands.itself || j.sitting.hands.ask != nil:
		return nil
	case j.Unrecorded: // a check: --yes also says that the blade is off
		j.sitting.hands.itself = true
		return nil
	}
	return Wrong("nobody can be asked to seat the blade: run in a terminal, or give --blade-seats-itself if the jig does that")
}

// askCautions listens whether there is a tape, shows the cautions and asks once. The sound
// until the answer is no part of the run.
func (j *Job) askCautions(ctx context.Context, news string) error {
	if j.Command != commandWork { // there the first unit is put on the bench later
		if err := j.hearTape(ctx); err != nil {
			return err
		}
	}
	question := "Go on?"
	if news != "" {
		question = "Go on in spite of what the last run left?"
	}
	if err := cautions.Accept(ctx, Cautiously(j.askMeanwhile), j.cautions()+"\n"+question); err != nil {
		return unasked(err)
	}
	j.sitting.cautions = record.Cautions{Asked: true, Answer: "yes"}
	return nil
}

// hearTape listens for a second. As long as a run could not use the sound, it asks the person
// to see to it.
func (j *Job) hearTape(ctx context.Context) error {
	plan := j.Plan
	if j.Past != nil {
		plan.ToneHz, plan.FurtherTonesHz = j.Past.ToneHz, j.Past.FurtherTonesHz
	}
	for {
		stop := j.front.during("listening whether a tape plays")
		level, err := sweep.Try(ctx, sweep.Setup{Sound: j.rig.Sound, Plan: plan, TrebleMaySet: j.ByHand && j.Past == nil})
		stop()
		if err == nil {
			j.front.Note("%s a tape is heard: left %.0f, right %.0f dBFS.", j.answers("and"), level[0], level[1])
			return nil
		}
		end := session.EndOf(err)
		var unusable *session.Stop
		if !errors.As(err, &unusable) {
			return unasked(err)
		}
		answer, err := j.askMeanwhile(ctx, Question{Kind: AskSound, Answers: []Answer{{"", "listen again"}, {"no", "no"}},
			Text: fmt.Sprintf("%s the sound cannot be used: %s.\nWhat to do: %s.\nPress Enter to listen again (no ends it): ", j.answers("but"), end.Say, end.Do)})
		if err != nil {
			return unasked(err)
		}
		if cautions.IsWord(answer, "no") {
			return unasked(unusable)
		}
	}
}

// answers is the beginning of a sentence: the jig, if there is one, answers, and or but...
func (j *Job) answers(then string) string {
	if j.ByHand {
		return "So far"
	}
	return "The jig answers, " + then
}

// unasked is the failure of a question: the answer was no, nobody answers, or jig or sound
// were lost meanwhile.
func unasked(err error) error {
	end := session.EndOf(err)
	if end.Outcome == record.Failed || end.Outcome == record.Interrupted {
		return NotBegun("%w", err)
	}
	return &Failure{Outcome: end.Outcome, Err: errors.New("not begun: " + end.Say), Do: end.Do}
}

// askMeanwhile asks while jig and sound are kept up with.
func (j *Job) askMeanwhile(ctx context.Context, question Question) (answer string, err error) {
	err = j.meanwhile(ctx, func(ctx context.Context) (err error) {
		answer, err = j.front.Ask(ctx, question)
		return err
	})
	return answer, err
}

// meanwhile waits for a person to do their part, or for ctx. Until then it discards the sound,
// so that the sound heard afterwards is new and none counts as lost, and it polls the jig, so
// that it notices an unplugged cable and follows the jig's clock.
func (j *Job) meanwhile(ctx context.Context, part func(context.Context) error) error {
	waiting, done := context.WithCancelCause(ctx)
	defer done(nil)
	go func() { // ends with the person's part, or with waiting
		defer fault.Recovered(func(err error) { done(err) })
		err := part(waiting)
		if err == nil {
			err = errDone
		}
		done(err)
	}()
	poll := func() error { return nil }
	if j.rig.Jig != nil {
		poll = func() error { _, err := j.rig.Jig.Status(waiting); return err }
	}
	if err := j.rig.Sound.drain(waiting, poll); err != nil {
		return err
	}
	if err := context.Cause(waiting); !errors.Is(err, errDone) {
		return err
	}
	return nil
}

var errDone = errors.New("the person's part is done")
