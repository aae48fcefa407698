package main

import (
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"headtrue/cmd/headtrue/app"
	"headtrue/sweep/logbook"
	"headtrue/sweep/record"
)

// Exit codes that are not an outcome of a run, or that several outcomes share.
const (
	exitGood       = 0
	exitUnexpected = 1
	exitUsage      = 2
	exitUnusable   = 3
	exitNotPassed  = 4
	exitToDo       = 5
	exitNotWhole   = 6
)

// exitCode is a code and its meaning: an outcome, or something else.
type exitCode struct {
	code    int
	outcome record.Outcome
	other   string
}

// meaning is the meaning of the code in plain words.
func (e exitCode) meaning() string {
	if e.outcome != "" {
		return e.outcome.Meaning()
	}
	return e.other
}

// exits is the only table of exit codes: help shows it, and commands look codes up in it.
var exits = []exitCode{
	{code: exitGood, outcome: record.Aligned},
	{code: exitGood, outcome: record.Measured},
	{code: exitGood, outcome: record.Restored},
	{code: exitUnexpected, outcome: record.Failed},
	{code: exitUsage, other: "the command line or the configuration is wrong; nothing was done"},
	{code: exitUnusable, other: "measure: the sound cannot be judged; \"why\" says the reasons"},
	{code: exitNotPassed, other: "work: nothing is left to do, but not every unit has passed"},
	{code: exitToDo, other: "work: units or proofs are still to be done"},
	{code: exitNotWhole, other: "logbook: something is missing or damaged, or was not taken"},
	{code: 10, outcome: record.LessCertain},
	{code: 11, outcome: record.Disagree},
	{code: 12, outcome: record.TooUncertain},
	{code: 13, outcome: record.NotReady},
	{code: 14, outcome: record.Interrupted},
	{code: 15, outcome: record.TakenOut},
	{code: 20, outcome: record.LinkLost},
	{code: 21, outcome: record.JigReset},
	{code: 22, outcome: record.JigStopped},
	{code: 23, outcome: record.JigRefused},
	{code: 30, outcome: record.SoundStopped},
	{code: 31, outcome: record.SoundLost},
	{code: 32, outcome: record.Silent},
	{code: 33, outcome: record.Clipped},
	{code: 34, outcome: record.TapeEnded},
	{code: 35, outcome: record.ChannelDead},
	{code: 36, outcome: record.ChannelFlipped},
	{code: 37, outcome: record.NoTreble},
	{code: 38, outcome: record.ToneOver},
	{code: 39, outcome: record.AutoGain},
	{code: 40, outcome: record.TravelLimit},
	{code: 41, outcome: record.NotFollowing},
	{code: 42, outcome: record.WrongScrew},
	{code: 43, outcome: record.RestoreDoubt},
	{code: 50, outcome: record.NotSaved},
}

// exitOf is the exit code of an outcome; an unknown outcome is unexpected.
func exitOf(o record.Outcome) int {
	for _, e := range exits {
		if e.outcome == o && o != "" {
			return e.code
		}
	}
	return exitUnexpected
}

// exitTable is the table as text.
func exitTable() string {
	var b strings.Builder
	for _, e := range exits {
		fmt.Fprintf(&b, "%2d  %s\t%s\n", e.code, e.outcome, e.meaning())
	}
	return b.String()
}

// exitCodesTopic is a help topic: headtrue help exit-codes.
func exitCodesTopic() *cobra.Command {
	return &cobra.Command{
		Use:   "exit-codes",
		Short: "What the exit codes mean",
		Long: "Exit codes, the outcome that --json and the record name, and what it means:\n\n" + exitTable() +
			"\nA command with --json that ends without its result writes other fields:\n\n" +
			"  headtrue help json",
		Example: "  headtrue align --port /dev/ttyACM0 --audio pulse: || echo ended with $?",
	}
}

// failure is an error with an exit code and a remedy.
type failure struct {
	code int
	err  error
	do   string
	told bool // the result has already reported it
}

func (f *failure) Error() string { return f.err.Error() }
func (f *failure) Unwrap() error { return f.err }

// ended is the failure of a run that ended with a bad outcome; nil after a good end. told
// means that the result already contains its text.
func ended(e record.End, told bool) error {
	err := app.Ended(e)
	if err == nil {
		return nil
	}
	return &failure{code: exitOf(e.Outcome), err: err, do: e.Do, told: told}
}

// unwritten is the failure of a run whose result could not be written. A bad outcome of the
// run takes precedence.
func unwritten(e record.End, err error) error {
	code := exitOf(e.Outcome)
	if code == exitGood {
		code = exitUnexpected
	}
	return &failure{code: code, err: fmt.Errorf("%s; and the result could not be written: %w", e.Say, err)}
}

// broken is what --json writes instead of a result.
type broken struct {
	Outcome  *record.Outcome `json:"outcome" help:"see headtrue help exit-codes; null if the code has none"`
	Error    string          `json:"error"`
	Do       string          `json:"do" help:"what happened, and what to do about it (may be empty)"`
	ExitCode int             `json:"exit_code" help:"the exit code"`
}

// brokenFrom adds to a failure the outcome of its exit code.
func brokenFrom(f failure) broken {
	b := broken{Error: f.Error(), Do: f.do, ExitCode: f.code}
	for _, e := range exits {
		if e.code == f.code && e.outcome != "" {
			b.Outcome = &e.outcome
		}
	}
	return b
}

// failureOf gives every error an exit code. If no command has begun, cobra refused the
// command line.
func failureOf(err error, begun bool) failure {
	var f *failure
	var refused *app.Failure
	var away *logbook.AwayError
	switch {
	case errors.As(err, &away) && (!errors.As(err, &f) || f.do == "") && (!errors.As(err, &refused) || refused.Do == ""):
		return failure{code: exitOf(record.NotSaved), err: err, do: "start the server, or check the cable to it; until then runs are recorded in " + away.Spool}
	case errors.As(err, &f):
		return *f
	case errors.As(err, &refused) && refused.Outcome == "":
		return failure{code: exitUsage, err: refused, do: refused.Do}
	case errors.As(err, &refused):
		return failure{code: exitOf(refused.Outcome), err: refused, do: refused.Do}
	case !begun:
		return failure{code: exitUsage, err: err}
	}
	return failure{code: exitUnexpected, err: err}
}
