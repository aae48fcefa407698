package main

import (
	"fmt"
	"math"

	"github.com/spf13/cobra"

	"headtrue/cmd/headtrue/app"
	"headtrue/cmd/headtrue/runjson"
	"headtrue/sweep"
	"headtrue/sweep/figures"
	"headtrue/sweep/record"
	"headtrue/sweep/sheet"
)

func (c *cli) alignCommand() *cobra.Command {
	var flags jobFlags
	var dry bool
	cmd := &cobra.Command{
		Use:   "align",
		Short: "Find the optimum, set the head to it, verify and record",
		Long: `Find where the head belongs, drive the screw there from its home side, verify and
record. Nothing moves before the cautions are answered (--yes answers them
beforehand) and the position as found is on the disk. Ctrl-C stops the screw at
once; headtrue restore brings it back to as found.

With --unit (and --head if it has several) what the run learns of that deck
is kept in the logbook and used by the next run on it: gearing, backlash, and, from
a tone, the fixed delay between the channels. Give each deck a label of its own.

With --by-hand there is no jig: you turn the screw with a screwdriver, and headtrue
says which way and about how far, hears both dull edges, and leads you to the
optimum. Keep your hands off the screw when it says so. Its record has tilts in
place of degrees of screw. A mono head, or one dead channel, is set by the treble
alone: you mark where the slot points at both dull edges, and turn to halfway
between the marks.`,
		Example: `  headtrue align --port /dev/ttyACM0 --audio pulse: --tone 10k
  headtrue align --port /dev/ttyACM0 --audio pulse: --unit D-104 --head reverse
  headtrue align --by-hand --audio pulse: --tone 10k
  headtrue align --virtual --seed 7 --json
  headtrue align --virtual=fault-cable`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := flags.takeDeck(args); err != nil {
				return err
			}
			j, err := c.newJob(cmd, "align", flags)
			if err != nil {
				return err
			}
			defer j.Close()
			if dry {
				return c.dryRun(j)
			}
			end, err := j.Perform(cmd.Context(), j.Align())
			if err != nil {
				return err
			}
			j.Learn(end)
			return c.report(j, end)
		},
	}
	flags.add(cmd, "tone", "within", "window", "deck", "to", "reference-tape", "stop-and-measure", "both-sides")
	flags.virtual.add(cmd.Flags())
	flags.addItself(cmd)
	flags.hand.add(cmd.Flags())
	cmd.Flags().BoolVar(&dry, "dry-run", false, "show what would be done, and do nothing")
	return cmd
}

// report writes the result of align or sweep, and returns a failure if the run ended badly.
func (c *cli) report(j *app.Job, end record.End) error {
	entries, err := j.Entries()
	if err != nil {
		return err
	}
	if c.json {
		err = c.writeJSON(runjson.AlignedFrom(j.Run(), end, entries))
	} else {
		_, err = fmt.Fprint(c.out, "\n", sheet.Brief(entries))
	}
	if err != nil {
		return unwritten(end, err)
	}
	return ended(end, !c.json)
}

// dryRun reports what the run would do.
func (c *cli) dryRun(j *app.Job) error {
	p := j.Plan
	if c.json {
		return c.writeJSON(runjson.PlannedFrom(j))
	}
	named := func(name, flag string) string {
		if name == "" {
			return "not given yet (" + flag + ")"
		}
		return name
	}
	bench := fmt.Sprintf("jig: %s; sound: %s", named(j.Settings.Port, "--port"), named(j.Settings.Audio, "--audio"))
	if j.IsVirtual() {
		bench = fmt.Sprintf("virtual bench %q, seed %d", j.Virtual, j.Seed)
	}
	material, to := "music", "this tape"
	switch {
	case p.ToneHz > 0 && p.StopAndMeasure:
		material = fmt.Sprintf("a tone of %.0f Hz, measured while the screw stands", p.ToneHz)
	case p.ToneHz > 0:
		material = fmt.Sprintf("a tone of %.0f Hz, measured while the screw turns", p.ToneHz)
	}
	for _, hz := range p.FurtherTonesHz {
		material += fmt.Sprintf(", with one of %.0f Hz", hz)
	}
	if p.ToStandard {
		to = fmt.Sprintf("the standard, by a tape whose own tilt is %+.1f'%s", p.TapeTiltArcmin, figures.PlusMinus(&p.TapeTiltSDArcmin, "'"))
	}
	c.say("Would align to %s, on %s.", to, material)
	c.say("  %s", bench)
	c.say("  screw: within %.0f degrees either way, %.0f' per turn (%.0f' of tilt either way)", p.WindowDeg, p.GearingArcminPerTurn, p.WindowDeg/360*math.Abs(p.GearingArcminPerTurn))
	c.say("  dull edges: %.1f dB below the top on both sides", p.DullDB)
	c.say("  it ends when the optimum is known to%s (95 %%), or after %.0f s of tape", figures.PlusMinus(&p.WithinArcmin, "'"), p.TapeBudgetSeconds)
	if p.BothSides {
		c.say("  the optimum is listened to from both sides, for the backlash")
	}
	c.say("Then the screw would be driven to the optimum from its home side and verified.")
	if !j.IsVirtual() {
		c.say("Before that the cautions would be asked. Nothing was opened or moved.")
	}
	return nil
}

func (c *cli) sweepCommand() *cobra.Command {
	var flags jobFlags
	var from, to, step float64
	cmd := &cobra.Command{
		Use:   "sweep",
		Short: "Measure over a range of the screw, return to as found, change nothing",
		Long: `Measure at places over a range of the screw, each reached from the home side, and
put the screw back as found. The result is as that of align.`,
		Example: `  headtrue sweep --port /dev/ttyACM0 --audio pulse: --from-deg -60 --to-deg 60 --step-deg 10
  headtrue sweep --virtual`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := flags.takeDeck(args); err != nil {
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
	flags.add(cmd, "tone", "window", "deck", "to", "reference-tape")
	flags.virtual.add(cmd.Flags())
	flags.addItself(cmd)
	cmd.Flags().Float64Var(&from, "from-deg", -60, "first place, degrees of screw from as found")
	cmd.Flags().Float64Var(&to, "to-deg", 60, "last place, degrees of screw from as found")
	cmd.Flags().Float64Var(&step, "step-deg", 10, "degrees between two places")
	return cmd
}
