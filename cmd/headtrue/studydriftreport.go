package main

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"headtrue/cmd/headtrue/app"
	"headtrue/cmd/headtrue/settings"
	"headtrue/sweep/logbook"
	"headtrue/sweep/study"
)

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
	missing []driftMissed
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
			d.missing = append(d.missing, driftMissed{n, plan.Due(n), why})
		case c.clock.Now().Before(plan.Late(n)):
			d.toCome++
		default:
			d.missing = append(d.missing, driftMissed{n, plan.Due(n), "headtrue did not run"})
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
		r.across(d.points, at, fromDays)
		after = since(d.points, fromDays)
	}
	best, err := r.fit(after)
	if err != nil {
		return err
	}
	if best != nil {
		if err := r.forecast(*best, after, o); err != nil {
			return err
		}
	}
	if c.json {
		return c.writeJSON(r)
	}
	c.showDrift(r, d, best, fromDays)
	return nil
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

// fit has the laws fitted; none where the points are too few.
func (r *driftReport) fit(points []study.Point) (*study.Fit, error) {
	temperature, cycles := len(points) > 0, len(points) > 0
	for _, p := range points {
		temperature, cycles = temperature && p.TemperatureC != nil, cycles && p.Cycles != nil
	}
	choice, err := study.ChooseDrift(points, study.Models(temperature, cycles))
	if errors.Is(err, study.ErrUndetermined) {
		r.say(fmt.Sprintf("%d points are too few to fit a law.", len(points)))
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	r.take(choice)
	shifts, err := study.Shifts(points)
	if err != nil && !errors.Is(err, study.ErrUndetermined) {
		return nil, err
	}
	for _, s := range shifts {
		r.Shifts = append(r.Shifts, driftShift{s.AfterDays, s.BeforeDays, s.SizeArcmin, s.SDArcmin})
		r.say(s.Say())
	}
	return &choice.Ranked[0].Fit, nil
}

func (r *driftReport) forecast(best study.Fit, points []study.Point, o driftReportOrder) error {
	reference := best.Forecast(study.Point{Days: points[0].Days}).Arcmin
	if o.referenceGiven {
		reference = o.reference
	}
	l, err := best.LeavesTolerance(reference, o.limit, points[len(points)-1].Days+o.untilDays)
	if err != nil {
		return err
	}
	known := func(m study.Moment) *float64 {
		if !m.Known {
			return nil
		}
		return &m.Days
	}
	r.Leaves = &driftLeaves{o.limit, reference, known(l.Middle), known(l.Earliest), known(l.Latest)}
	r.say(l.Say())
	return nil
}

func (r *driftReport) across(points []study.Point, at time.Time, days float64) {
	r.Event = &driftEvent{At: at.UTC(), AtDays: days}
	step, err := study.Across(points, days, false)
	if err != nil {
		r.Event.Why = err.Error()
		return
	}
	e := r.Event
	e.Size, e.SD, e.Low, e.High = &step.SizeArcmin, &step.SDArcmin, &step.Interval.LowArcmin, &step.Interval.HighArcmin
	e.Before, e.After = step.Before, step.After
	r.say(step.Say())
}
