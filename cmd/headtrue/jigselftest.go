package main

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"headtrue/cmd/headtrue/app"
	"headtrue/cmd/headtrue/app/barejig"
	"headtrue/cmd/headtrue/terminal"
)

func (o *jigOrder) selftestCommand() *cobra.Command {
	var yes bool
	cmd := &cobra.Command{
		Use: "selftest", Short: "Test the jig: window, stop input, limits, watchdog, steps, repeatability", Args: cobra.NoArgs,
		Long: `Test the jig by itself: whether it refuses targets outside its window, stops when its
stop input or a limit is held (a person holds them), stops by itself when the program
falls silent, makes the steps it is told and comes back to where it was. The motor turns
half a turn to and fro: the blade must be off the screw. Without a terminal the tests that
need a person are left out, and said to be.

Where there is no encoder, steps and repeatability are those that the jig counts: look at
the blade as well.`,
		Example: "  headtrue jig selftest --port /dev/ttyACM0\n  headtrue jig selftest --virtual",
		RunE: func(cmd *cobra.Command, _ []string) error {
			ctx, stop := o.cli.interruptible(cmd.Context(), "the jig stops")
			defer stop()
			return o.selftest(ctx, cmd, yes)
		},
	}
	cmd.Flags().BoolVar(&yes, "yes", false, "the blade is off the screw: do not ask")
	return cmd
}

func (o *jigOrder) selftest(ctx context.Context, cmd *cobra.Command, yes bool) error {
	c := o.cli
	var person *terminal.Person
	if !o.virtual {
		person = c.atInput()
	}
	if !yes && !o.virtual {
		if person == nil {
			return app.Wrong("nobody can be asked whether the blade is off the screw: run in a terminal, or say --yes")
		}
		if answer, err := person.Ask(ctx, "The motor will turn. Is the blade off the screw? Type yes: "); err != nil || answer != "yes" {
			return app.NotBegun("the blade must be off the screw")
		}
	}
	b, err := o.open(ctx, cmd)
	if err != nil {
		return err
	}
	defer b.Close()
	front := c.front("")
	if o.virtual {
		front.Ask = nil
	}
	done, err := barejig.Test(ctx, b.Jig, front, func(r barejig.Result) {
		if !c.json {
			c.say("%-16s %-10s %s", r.Test, selfTestWord(r), r.Found)
		}
	})
	if err != nil {
		return app.LinkFailure(err)
	}
	if c.json {
		if err := c.writeJSON(done); err != nil {
			return err
		}
	}
	if done.Failed > 0 {
		return &failure{code: exitUnusable, err: fmt.Errorf("%d of %d tests failed", done.Failed, len(done.Tests)), told: c.json,
			do: "do not turn a screw with this jig before they pass"}
	}
	return nil
}

func selfTestWord(r barejig.Result) string {
	switch {
	case r.Passed == nil:
		return "not tried"
	case *r.Passed:
		return "ok"
	}
	return "FAILED"
}
