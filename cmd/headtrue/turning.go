package main

import (
	"context"
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"headtrue/sweep"
	"headtrue/sweep/logbook"
	"headtrue/sweep/record"
	"headtrue/sweep/sheet"
)

func (a *app) sweepCommand() *cobra.Command {
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
				return usage("a sweep goes from a lower to a higher angle in positive steps, not from %g to %g in steps of %g", from, to, step)
			}
			j, err := a.newJob(cmd, "sweep", flags)
			if err != nil {
				return err
			}
			defer j.close()
			if reach := max(-from, to); reach > j.plan.WindowDeg {
				return usage("the range reaches %g degrees and the window only %g: widen it with --window", reach, j.plan.WindowDeg)
			}
			j.plan.FromDeg, j.plan.ToDeg, j.plan.StepDeg = from, to, step
			end, err := j.perform(cmd.Context(), sweep.Survey)
			if err != nil {
				return err
			}
			j.learn(end)
			return j.report(end)
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

func (a *app) restoreCommand() *cobra.Command {
	var flags jobFlags
	cmd := &cobra.Command{
		Use:   "restore [RUN]",
		Short: "Put the screw back as a run found it",
		Long: `Put the screw back to where a run found it: by the jig's count where the jig has
kept it, else by the delay and level of the same tape. Without RUN the newest
run that turned a real screw is undone. The runs are named in the logbook;
headtrue sheet shows the newest.

Fields of --json:
  run, restored   name of this run, and of the run that was undone
  outcome         how it ended, see headtrue help exit-codes
  screw_deg       where the screw stands now, degrees from as found
  screw_certain   whether the jig is sure of that
  say, do         the outcome in words, and what to do about it`,
		Example: "  headtrue restore --port /dev/ttyACM0 --audio pulse:\n  headtrue restore 20240506T070809Z --port /dev/ttyACM0 --audio pulse:",
		Args:    cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			j, err := a.newJob(cmd, "restore", flags)
			if err != nil {
				return err
			}
			defer j.close()
			if err := j.openBook(); err != nil {
				return err
			}
			if err := j.takePast(args); err != nil {
				return err
			}
			end, err := j.perform(cmd.Context(), func(ctx context.Context, s sweep.Setup) (record.End, error) {
				return sweep.Restore(ctx, s, *j.past)
			})
			if err != nil {
				return err
			}
			return j.reportRestore(end)
		},
	}
	flags.add(cmd, "window", "deck", "proof-seconds")
	flags.addItself(cmd)
	return cmd
}

// takePast finds the run to go back behind.
func (j *job) takePast(args []string) error {
	var rec logbook.Record
	var err error
	if len(args) == 1 {
		rec, err = j.book.Load(args[0])
	} else {
		rec, err = j.book.Newest(logbook.Filter{Real: true, Restorable: true})
	}
	switch {
	case errors.Is(err, logbook.ErrEmpty):
		return usage("no run in %s has turned a real screw: there is nothing to restore", j.book.Where())
	case err != nil:
		return usage("%w", err)
	case rec.Start().ProofOf != "":
		return usage("run %s is a proof and has turned nothing; it is run %s that set the head", rec.Run, rec.Start().ProofOf)
	case rec.Found() == nil:
		return usage("run %s ended before anything moved: there is nothing to restore", rec.Run)
	case rec.Start().Virtual != "":
		return usage("run %s was made on a virtual bench that is gone: there is nothing to restore", rec.Run)
	}
	j.past = &sweep.Past{Run: rec.Run, Found: *rec.Found(), Decision: rec.Decision()}
	for _, r := range []*record.Reading{rec.Found().BladeOff, rec.Found().Seated} {
		if r != nil && r.ToneHz > 0 {
			j.past.ToneHz, j.past.FurtherTonesHz = r.ToneHz, r.FurtherTonesHz
		}
	}
	return nil
}

// restored is what restore writes for machines.
type restored struct {
	Run          string         `json:"run"`
	Restored     string         `json:"restored"`
	Outcome      record.Outcome `json:"outcome"`
	ScrewDeg     float64        `json:"screw_deg"`
	ScrewCertain bool           `json:"screw_certain"`
	Say          string         `json:"say"`
	Do           string         `json:"do"`
}

func (j *job) reportRestore(end record.End) error {
	if j.app.json {
		err := j.app.writeJSON(restored{j.run.ID(), j.past.Run, end.Outcome, end.ScrewDeg, end.ScrewCertain, end.Say, end.Do})
		if err != nil {
			return unwritten(end, err)
		}
		return ended(end, !j.app.json)
	}
	entries, err := j.entries()
	if err != nil {
		return err
	}
	if _, err := fmt.Fprint(j.app.out, "\n", sheet.Verdict(entries)); err != nil {
		return unwritten(end, err)
	}
	return ended(end, !j.app.json)
}
