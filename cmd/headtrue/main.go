// Command headtrue finds, sets, proves and records the azimuth of a tape head: it turns the
// azimuth screw with a small motor and listens to the deck.
//
// This package is the front end for a terminal: commands, flags and help, questions and
// signals, progress, results in words and as JSON, and exit codes. Package app carries out
// the run; any other front end can use it as well.
package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"log"
	"os"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"headtrue/cmd/headtrue/app"
	"headtrue/cmd/headtrue/complete"
	"headtrue/cmd/headtrue/settings"
	"headtrue/cmd/headtrue/terminal"
	"headtrue/jig/fault"
)

func main() { os.Exit(run(os.Args[1:])) }

// run carries out a command line and returns its exit code.
func run(args []string) (code int) {
	screen := &terminal.Screen{To: os.Stderr, Display: terminal.DisplayOf(os.Stderr)}
	out := &terminal.Results{To: os.Stdout, Display: terminal.DisplayOf(os.Stdout), Beside: screen}
	c := &cli{clock: app.WallClock, in: os.Stdin, results: out, out: out, data: out.Data(), sound: os.Stdout, err: screen}
	defer fault.Recovered(func(err error) {
		c.showFault(err)
		code = exitUnexpected
	})
	defer c.quittable()()
	log.SetOutput(terminal.LibraryLog{To: c.err})
	root := c.root()
	root.SetArgs(args)
	if len(args) > 0 && strings.HasPrefix(args[0], cobra.ShellCompRequestCmd) {
		complete.Add(root, c.bookToComplete) // a third of the time that root takes
	}
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

// cli is what the commands share.
type cli struct {
	in         *os.File
	results    *terminal.Results
	out        io.Writer        // results for people
	data       io.Writer        // results for programs
	sound      io.Writer        // standard output for sound, unchecked
	err        *terminal.Screen // everything else
	json       bool
	config     string
	helpAll    bool // --help-all: help with the flags for experts, too
	clock      app.Clock
	interrupts interrupts       // the contexts that a signal cancels
	person     *terminal.Person // standard input, if it is a terminal
	own        *terminal.Person // the terminal of the process, if standard input carries the sound
	begun      bool             // a command has been accepted and runs
	answered   bool             // standard output has its JSON, or carries sound
	lapse      bool             // --time-lapse: a study in a logbook of its own
}

// load reads the settings; an error in them is a usage error.
func (c *cli) load(cmd *cobra.Command) (settings.Loaded, error) { return c.loadOver(cmd, nil, "") }

// loadOver is load with the values of one unit of a list over all other settings.
func (c *cli) loadOver(cmd *cobra.Command, over map[string]string, from string) (settings.Loaded, error) {
	virtual := cmd.Flags().Changed("virtual") // false if there is no such flag
	loaded, err := settings.Load(settings.Sources{File: c.config, Flags: cmd.Flags(), Virtual: virtual, Over: over, From: from})
	if err != nil {
		return loaded, app.Wrong("%w", err)
	}
	if c.lapse {
		loaded.ForTimeLapse()
	}
	return loaded, nil
}

// addLapse adds the flag for a study in the logbook of time-lapses.
func (c *cli) addLapse(cmd *cobra.Command) {
	cmd.Flags().BoolVar(&c.lapse, "time-lapse", false, "a study on the virtual bench, in the logbook of time-lapses")
}

// note writes a line that is not a result.
func (c *cli) note(format string, args ...any) { fmt.Fprintf(c.err, format+"\n", args...) }

// say writes a line of the result.
func (c *cli) say(format string, args ...any) { fmt.Fprintf(c.out, format+"\n", args...) }

// showFault shows an error of the program itself.
func (c *cli) showFault(err error) { app.Front{Note: c.note}.Fault(err) }

// terminal is standard input, if it is a terminal, with standard error. If standard input
// carries the sound, it is the terminal of the process. nil means that nobody can be asked.
func (c *cli) terminal(audio string) *terminal.Person {
	if !app.IsRaw(audio) {
		return c.atInput()
	}
	if c.own == nil {
		own, err := terminal.Own()
		if err != nil {
			return nil
		}
		if c.own = own; c.err.Terminal() { // the same, with what is passing there
			own.Out = c.err
		}
	}
	return c.own
}

// atInput is standard input if it is a terminal, else nil.
func (c *cli) atInput() *terminal.Person {
	if c.person == nil && term.IsTerminal(int(c.in.Fd())) {
		c.person = &terminal.Person{In: c.in, Out: c.err}
	}
	return c.person
}

// writeJSON writes a result for machines, on one line.
func (c *cli) writeJSON(v any) error {
	c.answered = true
	return json.NewEncoder(c.data).Encode(v)
}

// write writes a result for people.
func (c *cli) write(text string) error {
	_, err := io.WriteString(c.out, text)
	return err
}
