package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"headtrue/cmd/headtrue/app"
	"headtrue/sweep/record"
)

// Exit codes that are not an outcome of a run, or that several share.
const (
	exitGood       = 0
	exitUnexpected = 1
	exitUsage      = 2
	exitUnusable   = 3
	exitNotPassed  = 4
	exitToDo       = 5
	exitNotWhole   = 6
)

// exits is the one table of exit codes: help shows it, and commands look up in
// it.
var exits = []struct {
	code    int
	outcome record.Outcome // "" where no run ends so
	meaning string
}{
	{exitGood, record.Aligned, "the head is set as asked"},
	{exitGood, record.Measured, "measured, and the screw as it was found"},
	{exitGood, record.Restored, "back as found"},
	{exitUnexpected, record.Failed, "something unexpected; the message says what"},
	{exitUsage, "", "the command line or the configuration is wrong; nothing was done"},
	{exitUnusable, "", "measure: the sound cannot be judged; \"why\" says the reasons"},
	{exitNotPassed, "", "work: nothing is left to do, but not every unit has passed"},
	{exitToDo, "", "work: units or proofs are still to be done"},
	{exitNotWhole, "", "logbook: something is missing or damaged, or was not taken"},
	{10, record.LessCertain, "the head is set, with a larger uncertainty than was asked"},
	{11, record.Disagree, "the head is set, but the estimates do not tell the same story"},
	{12, record.TooUncertain, "no centre could be found well enough"},
	{13, record.NotReady, "port, jig or sound not ready; nothing was moved"},
	{14, record.Interrupted, "stopped on request (Ctrl-C); the screw stands still"},
	{15, record.TakenOut, "a person took the unit out of its batch"},
	{20, record.LinkLost, "the cable to the jig is gone, or the jig does not answer"},
	{21, record.JigReset, "the jig restarted in the middle of the run"},
	{22, record.JigStopped, "the jig stopped by itself: stop button, limit, stall"},
	{23, record.JigRefused, "the jig refused an order"},
	{30, record.SoundStopped, "the sound no longer arrives"},
	{31, record.SoundLost, "samples were lost on the way from the sound device"},
	{32, record.Silent, "nothing is heard"},
	{33, record.Clipped, "the sound is clipped"},
	{34, record.TapeEnded, "the tape has come to its end"},
	{35, record.ChannelDead, "one channel is dead"},
	{36, record.ChannelFlipped, "one channel is inverted against the other"},
	{37, record.NoTreble, "the programme has too little treble to judge by"},
	{38, record.ToneOver, "the tone on the tape is over"},
	{39, record.AutoGain, "the gain of the sound input follows the level"},
	{40, record.TravelLimit, "the window ended before a dull edge was found"},
	{41, record.NotFollowing, "the sound does not follow the screw"},
	{42, record.WrongScrew, "turning moves the balance, not the azimuth"},
	{43, record.RestoreDoubt, "driven back, but as found cannot be confirmed"},
	{50, record.NotSaved, "the record could not be written"},
}

// exitOf is the exit code of an outcome; an unknown one is unexpected.
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
		fmt.Fprintf(&b, "  %2d  %-21s %s\n", e.code, e.outcome, e.meaning)
	}
	return b.String()
}

// exitCodesTopic is a help topic: headtrue help exit-codes.
func exitCodesTopic() *cobra.Command {
	return &cobra.Command{
		Use:   "exit-codes",
		Short: "What the exit codes mean",
		Long: "Exit codes, the outcome that --json and the record name, and what it means:\n\n" + exitTable() + `
A command with --json that ends without its result writes this instead:
  outcome     as above; null where the code has none
  error, do   what happened, and what to do about it (may be empty)
  exit_code   the exit code`,
		Example: "  headtrue align --port /dev/ttyACM0 --audio pulse: || echo ended with $?",
	}
}

// failure is an error with an exit code, and what to do about it.
type failure struct {
	code int
	err  error
	do   string
	told bool // the result has said it already
}

func (f *failure) Error() string { return f.err.Error() }
func (f *failure) Unwrap() error { return f.err }

// ended is the failure of a run that ended so; nil after a good end. told says
// that the sentences stand in the result.
func ended(e record.End, told bool) error {
	err := app.Ended(e)
	if err == nil {
		return nil
	}
	return &failure{code: exitOf(e.Outcome), err: err, do: e.Do, told: told}
}

// unwritten is the failure of a run whose result could not be written. How the
// run ended counts more.
func unwritten(e record.End, err error) error {
	code := exitOf(e.Outcome)
	if code == exitGood {
		code = exitUnexpected
	}
	return &failure{code: code, err: fmt.Errorf("%s; and the result could not be written: %w", e.Say, err)}
}

// broken is what --json writes in place of a result.
type broken struct {
	Outcome  *record.Outcome `json:"outcome"`
	Error    string          `json:"error"`
	Do       string          `json:"do"`
	ExitCode int             `json:"exit_code"`
}

// brokenFrom gives the failure the outcome that its code stands for.
func brokenFrom(f failure) broken {
	b := broken{Error: f.Error(), Do: f.do, ExitCode: f.code}
	for _, e := range exits {
		if e.code == f.code && e.outcome != "" {
			b.Outcome = &e.outcome
		}
	}
	return b
}
