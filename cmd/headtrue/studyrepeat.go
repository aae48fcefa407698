package main

import (
	"context"
	"math"
	"slices"

	"github.com/spf13/cobra"

	"headtrue/cmd/headtrue/app"
	"headtrue/cmd/headtrue/app/studies"
	"headtrue/cmd/headtrue/settings"
	"headtrue/sweep/logbook"
	"headtrue/sweep/sheet"
	"headtrue/sweep/study"
	"headtrue/sweep/study/report"
)

// repeatPlan is the JSON of repeat plan.
type repeatPlan struct {
	Study    string `json:"study"`
	File     string `json:"file" help:"name of the study, and the file of its plan"`
	Trials   int    `json:"trials"`
	Seatings int    `json:"seatings" help:"number of trials, and of seatings of the blade"`
}

// repeatRun is the JSON of repeat run.
type repeatRun struct {
	Study  string   `json:"study"`
	Trials int      `json:"trials"`
	Done   int      `json:"done" help:"number of trials, and of those with a result"`
	Runs   []string `json:"runs" help:"names of the runs made now"`
}

func (c *cli) studyRepeatCommand() *cobra.Command {
	cmd := &cobra.Command{
		Use: "repeat", Short: "Plan, measure and judge a repeatability study: units, operators, seatings of the blade",
		Long: `A repeatability study measures each of several units by each of several operators,
with the blade seated anew several times, and several times in each seating, and
shows how much each of these adds to the spread of one reading.

Each trial measures the tilt as found (found_off_arcmin of the run) as align does, and
then puts the screw back, so that all trials of a unit begin at one place. The sound
puts it back within a few tenths of an arcminute, which the figures include. What runs
have learnt of a unit is neither used nor changed, so that all trials are alike.`,
		Example: "  headtrue study repeat plan --units A,B,C --operators K,M --reseatings 2 --repeats 3 spring",
	}
	cmd.AddCommand(c.repeatPlanCommand(), c.repeatRunCommand(), c.repeatReportCommand())
	return cmd
}

func (c *cli) repeatPlanCommand() *cobra.Command {
	var units, operators []string
	var reseatings, repeats int
	var seed uint64
	cmd := &cobra.Command{
		Use: "plan NAME", Short: "Lay down which trials a study has, in which order",
		Long: `Write the plan of a repeatability study to studies/NAME.csv in the folder of the
logbook. The order is random by the seed; the repeats of a seating follow one another.`,
		Example: "  headtrue study repeat plan --units A,B,C --operators K,M --reseatings 2 --repeats 3 spring",
		RunE: func(cmd *cobra.Command, args []string) error {
			loaded, err := c.load(cmd)
			if err != nil {
				return err
			}
			for _, label := range append(append(slices.Clone(units), operators...), args[0]) {
				if err := app.CheckStudy(label); err != nil {
					return err
				}
			}
			design, err := study.Design(len(units), len(operators), reseatings, repeats, seed)
			if err != nil {
				return app.Wrong("%w", err)
			}
			return c.planRepeat(loaded, args[0], report.NamedTrials(design, units, operators))
		},
	}
	settings.AddFlags(cmd.Flags(), "logbook")
	cmd.Flags().StringSliceVar(&units, "units", nil, "`labels` of the units, with commas")
	cmd.Flags().StringSliceVar(&operators, "operators", []string{"K"}, "`who` measures, with commas")
	cmd.Flags().IntVar(&reseatings, "reseatings", 2, "how often each of them seats the blade on each unit")
	cmd.Flags().IntVar(&repeats, "repeats", 2, "how often is measured in each seating")
	cmd.Flags().Uint64Var(&seed, "seed", 1, "what the order is drawn by")
	c.addLapse(cmd)
	return cmd
}

func (c *cli) planRepeat(loaded settings.Loaded, name string, all []report.Trial) error {
	file, err := app.KeepTrials(loaded.Folder(), name, all)
	if err != nil {
		return err
	}
	if c.json {
		return c.writeJSON(repeatPlan{name, file, len(all), len(report.Seatings(all))})
	}
	c.say("%d trials in %d seatings of the blade, kept in %s", len(all), len(report.Seatings(all)), file)
	return nil
}

func (c *cli) repeatRunCommand() *cobra.Command {
	var flags jobFlags
	cmd := &cobra.Command{
		Use: "run NAME", Short: "Measure the trials of a study that are still to do, one seating after the other",
		Long: `Measure what the plan NAME still needs, one seating of the blade after the other:
each is one run in the logbook. It says which unit, which operator, and when the blade
is to be seated and withdrawn. Ctrl-C ends it at any time; called again it goes on with
the next seating. A seating that was broken off is measured anew as a whole. The
cautions are asked once for all runs of a sitting and recorded with each.

With --virtual each unit is a virtual bench of its own by its label.`,
		Example: `  headtrue study repeat run spring --port /dev/ttyACM0 --audio pulse: --tone 10k
  headtrue study repeat run spring --virtual`,
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := app.CheckStudy(args[0]); err != nil {
				return err
			}
			j, err := c.newJob(cmd, app.CommandRepeat, flags)
			if err != nil {
				return err
			}
			defer j.Close()
			if c.lapse && !j.IsVirtual() {
				return app.Wrong("--time-lapse is for the virtual bench: add --virtual")
			}
			if j.IsKept() {
				return app.Wrong("each unit of the plan is a fresh virtual deck by its label: name a profile, or none, with --virtual")
			}
			if j.Settings.Unit != "" || j.Settings.Operator != "" {
				return app.Wrong("unit and operator: the plan of the study says that; leave them out of flags and configuration")
			}
			return c.repeat(cmd.Context(), j, args[0])
		},
	}
	flags.add(cmd, "tone", "within", "window", "deck", "stop-and-measure")
	flags.virtual.add(cmd.Flags())
	flags.addItself(cmd)
	c.addLapse(cmd)
	return cmd
}

// repeat measures the remaining seatings of a plan.
func (c *cli) repeat(ctx context.Context, j *app.Job, name string) error {
	if err := j.OpenBook(); err != nil {
		return err
	}
	all, err := app.ReadTrials(j.Book().Dir(), name)
	if err != nil {
		return err
	}
	done, err := app.Readings(ctx, j.Book(), name)
	if err != nil {
		return err
	}
	report := repeatRun{Study: name, Trials: len(all), Done: len(done), Runs: []string{}}
	runs, err := j.Repeat(ctx, name, all, done, func(trials int) { report.Done += trials })
	if err != nil {
		return err
	}
	report.Runs = append(report.Runs, runs...)
	if c.json {
		return c.writeJSON(report)
	}
	c.say("%d of %d trials are measured: headtrue study repeat report %s", report.Done, report.Trials, name)
	return nil
}

func (c *cli) repeatReportCommand() *cobra.Command {
	var tapeSD float64
	var output string
	cmd := &cobra.Command{
		Use: "report NAME", Short: "Judge a repeatability study: analysis of variance, components, uncertainty budget",
		Long: `Judge what is measured of a study so far: the analysis of variance of units by
operators (crossed), and of repeats within seatings of the blade (nested), with the
share of each cause; and the uncertainty budget of one reading. To that the fixed delay
of the channels adds what it adds to the readings themselves, which is next to nothing
if the treble decided them, and the tape what --tape-sd-arcmin says. With -o FILE it is
drawn as well: .pdf or .html, or .svg or .png for its figures alone.`,
		Example: "  headtrue study repeat report spring\n  headtrue study repeat report spring --tape-sd-arcmin 0.3 --json",
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := app.CheckStudy(args[0]); err != nil {
				return err
			}
			var stated []study.Source
			if tapeSD != 0 {
				stated = append(stated, study.Source{Name: "tape", SDArcmin: tapeSD, DOF: math.Inf(1), Sensitivity: 1})
			}
			return c.withBook(cmd, true, func(ctx context.Context, b *logbook.Book) error {
				return c.reportRepeat(ctx, b, args[0], stated, output)
			})
		},
	}
	settings.AddFlags(cmd.Flags(), "logbook")
	addOutput(cmd, &output)
	cmd.Flags().Float64Var(&tapeSD, "tape-sd-arcmin", 0, "standard uncertainty of the tape's own tilt")
	c.addLapse(cmd)
	return cmd
}

func (c *cli) reportRepeat(ctx context.Context, b *logbook.Book, name string, stated []study.Source, output string) error {
	r, err := studies.RepeatOf(ctx, b, name, stated)
	if err != nil {
		return err
	}
	return c.showStudy(r, r.Text, func() sheet.Page { return r.Page(c.clock.Now()) }, output)
}
