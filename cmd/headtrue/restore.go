package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"headtrue/cmd/headtrue/app"
	"headtrue/cmd/headtrue/runjson"
	"headtrue/cmd/headtrue/settings"
	"headtrue/sweep/record"
	"headtrue/sweep/sheet"
	"headtrue/sweep/sheet/chars"
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
A virtual deck is restored if it is kept (headtrue bench --keep).

With --by-hand there is no jig: play the tape of that run, from the same place if it
is music, and the sound leads your screwdriver back. Without RUN the newest run
whose screw was turned by hand is undone.`,
		Example: "  headtrue restore --port /dev/ttyACM0 --audio pulse:\n  headtrue restore --by-hand --audio pulse: --unit D-104\n  headtrue restore 20240506T070809Z --port /dev/ttyACM0 --audio pulse:\n  headtrue restore --virtual=bench1",
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
			end, err := j.Perform(cmd.Context(), j.Restore())
			if err != nil {
				return err
			}
			return c.reportRestore(j, end)
		},
	}
	flags.add(cmd, "window", "deck")
	flags.virtual.add(cmd.Flags())
	flags.addItself(cmd)
	flags.hand.add(cmd.Flags())
	cmd.Flags().BoolVar(&exchanged, "jig-exchanged", false, "the run was made with another board on this deck: go by the sound alone")
	return cmd
}

func (c *cli) reportRestore(j *app.Job, end record.End) error {
	entries, err := j.Entries()
	if err != nil {
		return err
	}
	if c.json {
		if err := c.writeJSON(runjson.RestoredFrom(j, end, entries)); err != nil {
			return unwritten(end, err)
		}
		return ended(end, !c.json)
	}
	if _, err := fmt.Fprint(c.out, "\n", sheet.Result(entries)); err != nil {
		return unwritten(end, err)
	}
	return ended(end, !c.json)
}

func (c *cli) proofCommand() *cobra.Command {
	var flags jobFlags
	cmd := &cobra.Command{
		Use:   "proof [RUN]",
		Short: "Listen again to a head that was set: how far it stands from the optimum now",
		Long: `Listen again to a head that a run has set, after the lacquer has dried or later, and
say how far it stands from the optimum of that run now, and how far it has moved
since it was left. Nothing is turned: the motor is off, the blade away, and no
port is opened. Play the tape of that run. Without RUN it is the newest that set a
head, of --unit and --head where they are given. The proof is a run of its own in
the logbook, on the same unit, head and job unless others are given. A virtual
head is proved if its deck is kept (headtrue bench --keep).`,
		Example: "  headtrue proof --audio pulse: --unit D-104\n  headtrue proof 20240506T070809Z --audio pulse:\n  headtrue proof --virtual=bench1",
		RunE: func(cmd *cobra.Command, args []string) error {
			j, err := c.newJob(cmd, "proof", flags)
			if err != nil {
				return err
			}
			defer j.Close()
			if err := j.OpenBook(); err != nil {
				return err
			}
			rec, err := j.ToProve(args)
			if err != nil {
				return err
			}
			if err := j.TakeAsLeft(rec); err != nil {
				return err
			}
			if err := j.CheckBench(rec); err != nil {
				return err
			}
			if c.terminal(j.Settings.Audio) == nil && !j.IsVirtual() {
				c.note("Nobody can be asked: the motor must be off, and the blade clear of the screw.")
			}
			end, err := j.Prove(cmd.Context())
			if err != nil {
				return err
			}
			return c.reportProof(j, end)
		},
	}
	settings.AddFlags(cmd.Flags(), "audio", "logbook", "unit", "head")
	flags.virtual.add(cmd.Flags())
	return cmd
}

func (c *cli) reportProof(j *app.Job, end record.End) error {
	rec, err := j.Recorded()
	if err != nil {
		return err
	}
	failed := ended(end, false)
	if !c.json {
		if failed == nil {
			c.say("\n%s", chars.Wrap(sheet.Capital(end.Say)+".", 0))
		}
		return failed
	}
	if err := c.writeJSON(runjson.ProvedFrom(j, end, rec)); err != nil {
		return unwritten(end, err)
	}
	return failed
}
