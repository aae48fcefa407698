package main

import (
	"context"
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"headtrue/sweep"
	"headtrue/sweep/bench"
	"headtrue/sweep/record"
	"headtrue/sweep/sheet"
)

func (c *cli) checkCommand() *cobra.Command {
	var flags jobFlags
	cmd := &cobra.Command{
		Use:   "check",
		Short: "See whether jig, sound and tape are ready",
		Long: `Check link, sound and tape, and what the motor adds to the sound while it holds
and steps. The blade stays off the screw: the motor turns 20 degrees either way
and back. Verdicts are pass, doubt, fail and unknown; what no program can see is
listed for a person to confirm. Nothing is recorded. Where nobody can be asked,
--yes also says that the blade is clear of the screw. The exit code is 0 where
nothing fails, else that of the outcome with which a run would have ended.

Fields of --json:
  checks      list of name; verdict: pass, doubt, fail or unknown; found, in words
              with units; do, what to do about it, where there is something
  confirm     what a person must confirm
  outcome, error, do, exit_code   only where it failed, see headtrue help exit-codes`,
		Example: "  headtrue check --port /dev/ttyACM0 --audio pulse:\n  headtrue check --virtual --json",
		Args:    cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := flags.takeProfile(args); err != nil {
				return err
			}
			j, err := c.newJob(cmd, "check", flags)
			if err != nil {
				return err
			}
			defer j.close()
			return j.check(cmd.Context())
		},
	}
	flags.add(cmd, "tone", "further-tones")
	flags.virtual.add(cmd.Flags())
	return cmd
}

// check runs the ready step by itself.
func (j *job) check(ctx context.Context) error {
	ctx, stop := j.cli.interruptible(ctx, "stopping the motor")
	defer stop()
	// A virtual bench seats its blade when the motor is energised; not so here.
	j.bench.Faults = append([]bench.Fault{{Kind: bench.BladeOut}}, j.bench.Faults...)
	if err := j.prepare(ctx); err != nil {
		return err
	}
	defer j.rig.Close()
	shown := &progress{to: j.cli.err}
	s := sweep.Setup{Jig: j.rig.jig, Sound: j.rig.sound, Tell: shown.tell, Plan: j.plan}
	if !j.virtual() {
		s.Ask = j.cli.asker(j.hands, j.rig)
	}
	checks, failed := sweep.Ready(ctx, s)
	end := checkEnd(ctx, checks, failed)
	if err := j.showChecks(checks, end); err != nil {
		return err
	}
	if end != nil {
		return end
	}
	return nil
}

// checkEnd is how a check ended; nil where nothing failed.
func checkEnd(ctx context.Context, checks record.Checks, failed error) *failure {
	switch {
	case ctx.Err() != nil:
		return &failure{code: exitOf(record.Interrupted), err: errors.New("stopped on request; the motor stands still")}
	case failed != nil:
		end := sweep.EndOf(failed)
		return &failure{code: exitOf(end.Outcome), err: errors.New(end.Say), do: end.Do}
	}
	for _, c := range checks.Checks {
		if c.Verdict == sweep.Fail {
			return &failure{code: exitOf(record.NotReady), err: fmt.Errorf("not ready: %s: %s", c.Name, c.Found), do: c.Do}
		}
	}
	return nil
}

// checked is what check writes for machines.
type checked struct {
	Checks  []record.Check `json:"checks"`
	Confirm []string       `json:"confirm"`
	*broken
}

func (j *job) showChecks(checks record.Checks, end *failure) error {
	if j.cli.json {
		c := checked{Checks: append([]record.Check{}, checks.Checks...), Confirm: confirm}
		if end != nil {
			b := brokenFrom(*end)
			c.broken = &b
		}
		return j.cli.writeJSON(c)
	}
	j.cli.say("%s", sheet.Checks(checks))
	j.cli.say("CONFIRM   what no program can see")
	for _, c := range confirm {
		j.cli.say("  [ ] %s", c)
	}
	return nil
}
