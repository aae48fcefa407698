package main

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"headtrue/cmd/headtrue/app"
	"headtrue/sweep"
	"headtrue/sweep/record"
	"headtrue/sweep/sheet"
)

func (c *cli) restoreCommand() *cobra.Command {
	var flags jobFlags
	var exchanged bool
	cmd := &cobra.Command{
		Use:   "restore [RUN]",
		Short: "Put the screw back as a run found it",
		Long: `Put the screw back to where a run found it: by the jig's count where the jig has
kept it, else by the delay and level of the same tape. Without RUN the newest run
that turned a screw on this bench is undone, of --unit and --head where they are
given: the bench is known by the USB serial number of the port, or by where it is
plugged in. A run of another bench or unit is refused; where the board has been
exchanged, --jig-exchanged lets the sound alone say where the screw belongs. Run,
unit and date are named before anything moves. The runs are named in the logbook;
headtrue sheet shows the newest. The restore is filed under the unit of the run.

Fields of --json:
  run, restored   name of this run, and of the run that was undone
  outcome         how it ended, see headtrue help exit-codes
  screw_deg       where the jig stands now, degrees from as found
  screw_certain   whether that is sure, by the count or by the sound
  screw_off_deg, screw_off_sd_deg   where the screw itself stands against as found, and
                  its standard uncertainty (null where not known, or back)
  put_back        false: that is of other commands
  restore_command the command that puts it back (null where it is back)
  say, do         the outcome in words, and what to do about it`,
		Example: "  headtrue restore --port /dev/ttyACM0 --audio pulse:\n  headtrue restore 20240506T070809Z --port /dev/ttyACM0 --audio pulse:",
		Args:    cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			j, err := c.newJob(cmd, "restore", flags)
			if err != nil {
				return err
			}
			defer j.Close()
			if err := j.OpenBook(); err != nil {
				return err
			}
			if err := j.TakePast(args, exchanged); err != nil {
				return err
			}
			end, err := j.Perform(cmd.Context(), func(ctx context.Context, s sweep.Setup) (record.End, error) {
				return sweep.Restore(ctx, s, *j.Past)
			})
			if err != nil {
				return err
			}
			return c.reportRestore(j, end)
		},
	}
	flags.add(cmd, "window", "deck", "proof-seconds")
	flags.addItself(cmd)
	cmd.Flags().BoolVar(&exchanged, "jig-exchanged", false, "the run was made with another board on this deck: go by the sound alone")
	return cmd
}

// restored is what restore writes for machines.
type restored struct {
	Run          string         `json:"run"`
	Restored     string         `json:"restored"`
	Outcome      record.Outcome `json:"outcome"`
	ScrewDeg     float64        `json:"screw_deg"`
	ScrewCertain bool           `json:"screw_certain"`
	leftAt
	Say string `json:"say"`
	Do  string `json:"do"`
}

func (c *cli) reportRestore(j *app.Job, end record.End) error {
	if c.json {
		err := c.writeJSON(restored{j.Run(), j.Past.Run, end.Outcome, end.ScrewDeg, end.ScrewCertain, leftAtOf(end), end.Say, end.Do})
		if err != nil {
			return unwritten(end, err)
		}
		return ended(end, !c.json)
	}
	entries, err := j.Entries()
	if err != nil {
		return err
	}
	if _, err := fmt.Fprint(c.out, "\n", sheet.Verdict(entries)); err != nil {
		return unwritten(end, err)
	}
	return ended(end, !c.json)
}
