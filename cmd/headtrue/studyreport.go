package main

import (
	"context"
	"math"

	"github.com/spf13/cobra"

	"headtrue/cmd/headtrue/app"
	"headtrue/cmd/headtrue/app/studies"
	"headtrue/cmd/headtrue/settings"
	"headtrue/sweep/logbook"
	"headtrue/sweep/study"
	"headtrue/sweep/tape"
)

const reportFields = `repeat report:
  study, trials, done; missing   the trials that are not measured: number, unit,
                    operator, reseating, repeat
  values            the same of those that are, with run and found_off_arcmin
  crossed           units by operators; crossed_why says why it could not be made. It has
                    table: source, df, ss_arcmin2, ms_arcmin2, f, p (null where not tested);
                    pooled (the interaction counts as error);
                    components: name, variance_arcmin2, sd_arcmin, percent_of_total_sd,
                    low_arcmin and high_arcmin (95 %, null where not known), truncated
                    (estimated below zero); categories (kinds of unit told apart)
  nested            repeats within seatings within units (by each operator); nested_why
  budget            sources: name, sd_arcmin, dof (null: known), sensitivity, percent;
                    sd_arcmin, dof, coverage_factor, expanded_arcmin (95 %); budget_why
  say               the result in words`

func (c *cli) repeatReportCommand() *cobra.Command {
	var tapeSD float64
	cmd := &cobra.Command{
		Use: "report NAME", Short: "Judge a repeatability study: analysis of variance, components, uncertainty budget",
		Long: `Judge what is measured of a study so far: the analysis of variance of units by
operators (crossed), and of repeats within seatings of the blade (nested), with the
share of each cause; and the uncertainty budget of one reading. To that the fixed delay
of the channels adds in full (--channel-delay-sd-us, or as the settings have it; where
the treble takes part in a reading it counts for less), and the tape by --tape-sd-arcmin.

` + reportFields,
		Args:    cobra.ExactArgs(1),
		Example: "  headtrue study repeat report spring\n  headtrue study repeat report spring --tape-sd-arcmin 0.3 --json",
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := app.CheckStudy(args[0]); err != nil {
				return err
			}
			loaded, err := c.load(cmd)
			if err != nil {
				return err
			}
			stated := []study.Source{
				{Name: "fixed delay of the channels", SDArcmin: tape.StereoCassette.Arcmin(loaded.ChannelDelaySDUS), DOF: math.Inf(1), Sensitivity: 1},
			}
			if tapeSD != 0 {
				stated = append(stated, study.Source{Name: "tape", SDArcmin: tapeSD, DOF: math.Inf(1), Sensitivity: 1})
			}
			return c.withBook(cmd, true, func(ctx context.Context, b *logbook.Book) error { return c.reportRepeat(ctx, b, args[0], stated) })
		},
	}
	settings.AddFlags(cmd.Flags(), "logbook", "clips", "channel-delay-sd-us")
	cmd.Flags().Float64Var(&tapeSD, "tape-sd-arcmin", 0, "standard uncertainty of the tape's own tilt")
	return cmd
}

func (c *cli) reportRepeat(ctx context.Context, b *logbook.Book, name string, stated []study.Source) error {
	r, err := studies.RepeatOf(ctx, b, name, stated)
	if err != nil {
		return err
	}
	if c.json {
		return c.writeJSON(r)
	}
	return c.write(r.Text())
}
