package main

import (
	"context"

	"github.com/spf13/cobra"

	"headtrue/cmd/headtrue/app"
	"headtrue/cmd/headtrue/app/cautions"
	"headtrue/sweep/record"
	"headtrue/sweep/sheet"
)

func (c *cli) checkCommand() *cobra.Command {
	var flags jobFlags
	cmd := &cobra.Command{
		Use:   "check",
		Short: "See whether jig, sound and tape are ready",
		Long: `Check jig, sound and tape, and what the motor adds to the sound while it holds and
steps. The blade stays off the screw: the motor turns 20 degrees either way and
back. Each line is pass, doubt, fail or unknown, with its number and its limit; what
no program can see is listed for a person to confirm. Nothing is recorded. If nobody
can be asked, --yes also says that the blade is clear of the screw. The exit code is
0 if nothing fails, else that of the outcome with which a run would have ended.`,
		Example: "  headtrue check --port /dev/ttyACM0 --audio pulse:\n  headtrue check --virtual --json",
		Args:    cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := flags.takeDeck(args); err != nil {
				return err
			}
			loaded, err := c.load(cmd)
			if err != nil {
				return err
			}
			order := orderOf(loaded, "check", flags)
			order.Unrecorded = true
			j, err := app.New(c.front(loaded.Audio), order)
			if err != nil {
				return err
			}
			defer j.Close()
			return c.check(cmd.Context(), j)
		},
	}
	flags.add(cmd, "tone")
	flags.virtual.add(cmd.Flags())
	return cmd
}

// check checks whether the bench is ready, and shows the result.
func (c *cli) check(ctx context.Context, j *app.Job) error {
	checks, failed := j.Check(ctx)
	if checks == nil {
		return failed
	}
	if err := c.showChecks(*checks, failed); err != nil {
		return err
	}
	return failed
}

// checkedLine is one check in the JSON of check: with all its fields, unknown ones null.
type checkedLine struct {
	Name    string   `json:"name" help:"name of the check"`
	Verdict string   `json:"verdict" help:"pass, doubt, fail or unknown"`
	Value   *float64 `json:"value"`
	AtLeast *float64 `json:"at_least"`
	AtMost  *float64 `json:"at_most"`
	Unit    string   `json:"unit" help:"what was measured, if it is one number; its limits; and the unit of these"`
	Found   string   `json:"found" help:"the finding in words, with units"`
	Do      string   `json:"do" help:"what to do about it (may be empty)"`
}

// checked is the JSON of check.
type checked struct {
	Checks  []checkedLine `json:"checks"`
	Confirm []string      `json:"confirm" help:"what a person must confirm"`
	*broken
}

func (c *cli) showChecks(checks record.Checks, failed error) error {
	if c.json {
		out := checked{Checks: []checkedLine{}, Confirm: cautions.ToConfirm}
		for _, ch := range checks.Checks {
			out.Checks = append(out.Checks, checkedLine(ch))
		}
		if failed != nil {
			b := brokenFrom(failureOf(failed, c.begun))
			out.broken = &b
		}
		return c.writeJSON(out)
	}
	c.say("%s", sheet.Checks(checks))
	c.say("CONFIRM   what no program can see")
	for _, what := range cautions.ToConfirm {
		c.say("  [ ] %s", what)
	}
	return nil
}
