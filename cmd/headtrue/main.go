// Command headtrue finds, sets, proves and records the azimuth of a tape head: it turns the
// azimuth screw with a small motor and listens to the deck.
//
// This package is the front end for a terminal: commands, flags and help, questions and
// signals, progress, results in words and as JSON, and exit codes. Package app carries out
// the run; any other front end can use it as well.
package main

import (
	"context"
	"errors"
	"fmt"
	"log"
	"os"
	"slices"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"headtrue/cmd/headtrue/app"
	"headtrue/cmd/headtrue/terminal"
	"headtrue/jig/fault"
	"headtrue/sweep/logbook"
	"headtrue/sweep/record"
)

func main() { os.Exit(run(os.Args[1:])) }

// run carries out a command line and returns its exit code.
func run(args []string) (code int) {
	out := &terminal.Results{To: terminal.Printable{To: os.Stdout}}
	c := &cli{clock: app.WallClock, in: os.Stdin, out: out, sound: os.Stdout,
		err: &terminal.Screen{To: os.Stderr, Terminal: term.IsTerminal(int(os.Stderr.Fd()))}}
	defer fault.Recovered(func(err error) {
		c.showFault(err)
		code = exitUnexpected
	})
	defer c.quittable()()
	log.SetOutput(terminal.LibraryLog{To: c.err})
	root := c.root()
	root.SetArgs(args)
	err := root.ExecuteContext(context.Background())
	if err == nil {
		if err = out.Failure(); err != nil {
			err = &failure{code: exitUnexpected, err: err, do: "make room, or write it elsewhere"}
		}
	}
	if err == nil {
		return exitGood
	}
	f := failureOf(err, c.begun)
	if (c.json || slices.Contains(args, "--json")) && !c.answered {
		_ = c.writeJSON(brokenFrom(f)) // the exit code reports it, too
	}
	if f.told {
		return f.code
	}
	fmt.Fprintf(c.err, "headtrue: %v\n", err)
	app.Front{Note: c.note}.Stack(err)
	switch {
	case f.do != "":
		fmt.Fprintf(c.err, "What to do: %s.\n", f.do)
	case !c.begun:
		fmt.Fprintln(c.err, "See headtrue --help, or --help after a command.")
	}
	return f.code
}

// failureOf gives every error an exit code. If no command has begun, cobra refused the
// command line.
func failureOf(err error, begun bool) failure {
	var f *failure
	var refused *app.Failure
	var away *logbook.AwayError
	switch {
	case errors.As(err, &away) && (!errors.As(err, &f) || f.do == "") && (!errors.As(err, &refused) || refused.Do == ""):
		return failure{code: exitOf(record.NotSaved), err: err, do: "start the server, or see to the cable to it; runs are recorded meanwhile, in " + away.Spool}
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

func (c *cli) root() *cobra.Command {
	root := &cobra.Command{
		Use:   "headtrue",
		Short: "Find, set, prove and record the azimuth of a tape head",
		Long: `headtrue turns the azimuth screw of a tape deck by a small motor, listens to
the deck, and finds, sets, proves and records the place where the head belongs.

Results go to standard output, everything else to standard error. With --json
the result is JSON, with its fields and their units in the help of each command;
headtrue help exit-codes has those of an end without a result. Settings come
from profiles, what runs have learnt of a unit, a YAML file, HEADTRUE_ variables
and flags, each stronger than the one before; headtrue config shows them.`,
		Example:       "  headtrue demo\n  headtrue align --port /dev/ttyACM0 --audio pulse: --tone 10k",
		SilenceErrors: true,
		SilenceUsage:  true,
		PersistentPreRun: func(*cobra.Command, []string) {
			c.begun = true
		},
	}
	root.SetOut(c.out)
	root.SetErr(c.err)
	root.PersistentFlags().BoolVar(&c.json, "json", false, "write the result as JSON")
	root.PersistentFlags().StringVar(&c.config, "config", "", "configuration `file` (else HEADTRUE_CONFIG, else the user's)")
	root.AddCommand(
		c.devicesCommand(), c.checkCommand(), c.sweepCommand(), c.alignCommand(), c.restoreCommand(), c.proofCommand(), c.workCommand(),
		c.measureCommand(), c.limitsCommand(), c.benchCommand(), c.demoCommand(), c.sheetCommand(), c.logbookCommand(), c.studyCommand(), c.jigCommand(), c.configCommand(),
		c.versionCommand(), exitCodesTopic(),
	)
	root.InitDefaultCompletionCmd()
	if completion, _, err := root.Find([]string{"completion"}); err == nil {
		completion.Example = "  headtrue completion bash > ~/.local/share/bash-completion/completions/headtrue"
	}
	return root
}
