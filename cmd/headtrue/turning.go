package main

import (
	"github.com/spf13/cobra"

	"headtrue/cmd/headtrue/app"
	"headtrue/sweep"
)

func (c *cli) sweepCommand() *cobra.Command {
	var flags jobFlags
	var from, to, step float64
	cmd := &cobra.Command{
		Use:   "sweep",
		Short: "Measure over a range of the screw, return to as found, change nothing",
		Long: `Measure at places over a range of the screw, each reached from the home side, and
return the screw to as found. Nothing is changed. The result is as that of
align; the curve and the gearing with its sign stand in the record.

` + alignFields,
		Example: `  headtrue sweep --port /dev/ttyACM0 --audio pulse: --from-deg -60 --to-deg 60 --step-deg 10
  headtrue sweep --virtual`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := flags.takeProfile(args); err != nil {
				return err
			}
			if !(from < to) || !(step > 0) {
				return app.Wrong("a sweep goes from a lower to a higher angle in positive steps, not from %g to %g in steps of %g", from, to, step)
			}
			j, err := c.newJob(cmd, "sweep", flags)
			if err != nil {
				return err
			}
			defer j.Close()
			if reach := max(-from, to); reach > j.Plan.WindowDeg {
				return app.Wrong("the range reaches %g degrees and the window only %g: widen it with --window", reach, j.Plan.WindowDeg)
			}
			j.Plan.FromDeg, j.Plan.ToDeg, j.Plan.StepDeg = from, to, step
			end, err := j.Perform(cmd.Context(), sweep.Survey)
			if err != nil {
				return err
			}
			j.Learn(end)
			return c.report(j, end)
		},
	}
	flags.add(cmd, "tone", "further-tones", "dull", "window", "deck", "to", "reference-tape", "channel-delay-us",
		"slack-taken-up", "proof-seconds")
	flags.virtual.add(cmd.Flags())
	flags.addItself(cmd)
	cmd.Flags().Float64Var(&from, "from-deg", -60, "first place, degrees of screw from as found")
	cmd.Flags().Float64Var(&to, "to-deg", 60, "last place, degrees of screw from as found")
	cmd.Flags().Float64Var(&step, "step-deg", 10, "degrees between two places")
	return cmd
}
