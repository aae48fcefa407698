package main

import (
	"encoding/json"
	"fmt"
	"io"
	"os"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"headtrue/cmd/headtrue/app"
	"headtrue/cmd/headtrue/settings"
	"headtrue/cmd/headtrue/terminal"
)

// cli is what the commands share.
type cli struct {
	in         *os.File
	out        io.Writer        // results
	sound      io.Writer        // standard output for sound, unchecked
	err        *terminal.Screen // everything else
	json       bool
	config     string
	clock      app.Clock
	interrupts interrupts       // the contexts that a signal cancels
	person     *terminal.Person // standard input, if it is a terminal
	own        *terminal.Person // the terminal of the process, if standard input carries the sound
	begun      bool             // a command has been accepted and runs
	answered   bool             // standard output has its JSON, or carries sound
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
	return loaded, nil
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
		c.own = own
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
	return json.NewEncoder(c.out).Encode(v)
}

// write writes a result for people.
func (c *cli) write(text string) error {
	_, err := io.WriteString(c.out, text)
	return err
}
