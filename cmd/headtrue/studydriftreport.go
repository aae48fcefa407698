package main

import (
	"context"

	"github.com/spf13/cobra"

	"headtrue/cmd/headtrue/app"
	"headtrue/cmd/headtrue/app/studies"
	"headtrue/cmd/headtrue/settings"
	"headtrue/sweep/logbook"
)

const driftReportFields = `drift report:
  study, first_due, every_s   as the plan has them; to_come, how many points are
  points            number, run, begun, days, arcmin, sd_arcmin (null: not known),
                    temperature_c
  missing           number, due, why
  fits              from the best on: model, delta (of AICc), params (name, unit, value,
                    sd), n, dof, scale (by how much the points scatter more than they
                    say), lag1 (likeness of neighbouring residuals); skipped: model, why
  shifts            after_days, before_days, size_arcmin, sd_arcmin
  leaves            limit_arcmin, reference_arcmin; when the tolerance is left:
                    middle_days, earliest_days, latest_days (95 %; null: not by then)
  event             at, at_days, size_arcmin, sd_arcmin, low_arcmin, high_arcmin, before,
                    after (points); why it cannot be told
  say               the result in words`

type driftReportOrder struct {
	event            string
	limit, reference float64
	referenceGiven   bool
	cyclesPerPoint   float64
	untilDays        float64
}

func (c *cli) driftReportCommand() *cobra.Command {
	var o driftReportOrder
	cmd := &cobra.Command{
		Use: "report NAME", Short: "Fit laws of drift to a study, and say when the head leaves a tolerance",
		Long: `Say what the points of a drift study tell so far: which law fits best (constant, steady
creep, settling, slowing creep), with the temperature where every point has one; level
shifts; when the head leaves --limit. Days count from the first point. With --event, as
when lacquer was put on the screw, its step is told, and laws, shifts and forecast take
the points after it and count days from it.

` + driftReportFields,
		Args: cobra.ExactArgs(1),
		Example: `  headtrue study drift report lacquer --limit 1.5
  headtrue study drift report lacquer --event 2026-11-20T10:00 --json`,
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := app.CheckStudy(args[0]); err != nil {
				return err
			}
			if !(o.limit > 0) || !(o.untilDays > 0) || o.cyclesPerPoint < 0 {
				return app.Wrong("--limit and --days must be above zero, --cycles-per-point not below it")
			}
			o.referenceGiven = cmd.Flags().Changed("reference")
			return c.withBook(cmd, true, func(ctx context.Context, b *logbook.Book) error { return c.reportDrift(ctx, b, args[0], o) })
		},
	}
	settings.AddFlags(cmd.Flags(), "logbook", "clips")
	f := cmd.Flags()
	f.StringVar(&o.event, "event", "", "`moment` of something done to the head or its screw: 2026-11-20T10:00")
	f.Float64Var(&o.limit, "limit", 1.5, "tolerance: `arcmin` either side of the reference")
	f.Float64Var(&o.reference, "reference", 0, "`arcmin` where the head should stand (else where the fit begins)")
	f.Float64Var(&o.untilDays, "days", 365, "how many `days` after the last point to look ahead")
	f.Float64Var(&o.cyclesPerPoint, "cycles-per-point", 0, "`cassettes` put in for each point that was measured; 0: not counted")
	return cmd
}

func (c *cli) reportDrift(ctx context.Context, b *logbook.Book, name string, o driftReportOrder) error {
	asked := studies.DriftOrder{LimitArcmin: o.limit, CyclesPerPoint: o.cyclesPerPoint, UntilDays: o.untilDays}
	var err error
	if asked.Event, err = day("event", o.event); err != nil {
		return err
	}
	if o.referenceGiven {
		asked.Reference = &o.reference
	}
	d, err := studies.DriftOf(ctx, b, name, asked, c.clock.Now())
	if err != nil {
		return err
	}
	if c.json {
		return c.writeJSON(d.Drift)
	}
	return c.write(d.Text())
}
