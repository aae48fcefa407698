package main

import (
	"context"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"headtrue/cmd/headtrue/app"
	"headtrue/cmd/headtrue/settings"
	"headtrue/sweep/logbook"
	"headtrue/sweep/study"
	"headtrue/sweep/study/report"
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

// driftData is a drift study as the logbook has it.
type driftData struct {
	plan    app.Schedule
	runs    []logbook.Summary // of the points that were measured
	points  []study.Point
	missing []report.DriftMissed
	toCome  int
}

// collect goes through the schedule and takes what was measured.
func (c *cli) collect(ctx context.Context, b *logbook.Book, name string, o driftReportOrder) (d driftData, err error) {
	plan, there, err := app.ReadSchedule(b.Dir(), name)
	if err != nil {
		return d, err
	}
	if !there {
		return d, app.Wrong("no drift study %q: headtrue study drift run begins one", name)
	}
	d.plan = plan
	done, err := app.PointsOf(ctx, b, name)
	if err != nil {
		return d, err
	}
	for n := 1; n <= plan.Points; n++ {
		s, there := done[n]
		switch off := app.DriftOff(s); {
		case there && off != nil:
			d.take(s, *off, o.cyclesPerPoint)
		case there:
			why, err := whyMissed(b, s)
			if err != nil {
				return d, err
			}
			d.missing = append(d.missing, report.DriftMissed{Number: n, Due: plan.Due(n), Why: why})
		case c.clock.Now().Before(plan.Late(n)):
			d.toCome++
		default:
			d.missing = append(d.missing, report.DriftMissed{Number: n, Due: plan.Due(n), Why: "headtrue did not run"})
		}
	}
	for _, p := range d.points {
		if p.SDArcmin == 0 { // those of the others are worth nothing then
			for i := range d.points {
				d.points[i].SDArcmin = 0
			}
		}
	}
	return d, nil
}

func (d *driftData) take(s logbook.Summary, off, cyclesPerPoint float64) {
	p := study.Point{Days: daysFrom(d.plan.FirstDue, s.Begun), Arcmin: off, TemperatureC: s.TemperatureC}
	sd := s.LeftOffSDArcmin
	if s.Command == app.CommandSearch {
		sd = s.FoundOffSDArcmin
	}
	if sd != nil {
		p.SDArcmin = *sd
	}
	if cyclesPerPoint > 0 {
		cycles := cyclesPerPoint * float64(len(d.points)+1)
		p.Cycles = &cycles
	}
	d.runs, d.points = append(d.runs, s), append(d.points, p)
}

func daysFrom(first, t time.Time) float64 { return t.Sub(first).Hours() / 24 }

func whyMissed(b *logbook.Book, s logbook.Summary) (string, error) {
	if s.Outcome == "" {
		return "cut off", nil
	}
	rec, err := b.Load(s.Run)
	if err != nil {
		return "", err
	}
	return fmt.Sprintf("%s: %s", s.Outcome, rec.End().Say), nil
}

func (c *cli) reportDrift(ctx context.Context, b *logbook.Book, name string, o driftReportOrder) error {
	d, err := c.collect(ctx, b, name, o)
	if err != nil {
		return err
	}
	r := driftReportFrom(d)
	after, fromDays := d.points, 0.0
	if o.event != "" {
		at, err := day("event", o.event)
		if err != nil {
			return err
		}
		fromDays = daysFrom(d.plan.FirstDue, at)
		r.Across(d.points, at, fromDays)
		after = since(d.points, fromDays)
	}
	best, err := r.Fit(after)
	if err != nil {
		return err
	}
	if best != nil {
		var reference *float64
		if o.referenceGiven {
			reference = &o.reference
		}
		if err := r.Forecast(*best, after, o.limit, reference, o.untilDays); err != nil {
			return err
		}
	}
	if c.json {
		return c.writeJSON(r)
	}
	return c.write(r.Text(d.plan, d.points, best, fromDays))
}

// since are the points after an event, by the days since that.
func since(all []study.Point, fromDays float64) (after []study.Point) {
	for _, p := range all {
		if p.Days >= fromDays {
			p.Days -= fromDays
			after = append(after, p)
		}
	}
	return after
}

func driftReportFrom(d driftData) report.Drift {
	r := report.Drift{Study: d.plan.Study, FirstDue: d.plan.FirstDue, Every: d.plan.EverySeconds, ToCome: d.toCome,
		Points: []report.DriftPoint{}, Missing: append([]report.DriftMissed{}, d.missing...), Fits: []report.DriftFit{}, Skipped: []report.DriftSkipped{}, Shifts: []report.DriftShift{}, Say: []string{}}
	for i, p := range d.points {
		s := d.runs[i]
		point := report.DriftPoint{Number: s.Trial, Run: s.Run, Begun: s.Begun, Days: p.Days, Arcmin: p.Arcmin, TemperatureC: p.TemperatureC}
		if p.SDArcmin > 0 {
			point.SDArcmin = &p.SDArcmin
		}
		r.Points = append(r.Points, point)
	}
	return r
}
