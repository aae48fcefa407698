package studies

import (
	"context"
	"fmt"
	"time"

	"headtrue/cmd/headtrue/app"
	"headtrue/sweep/logbook"
	"headtrue/sweep/record"
	"headtrue/sweep/sheet"
	"headtrue/sweep/study"
	"headtrue/sweep/study/report"
)

// DriftOrder is the request for a drift report.
type DriftOrder struct {
	Event       time.Time // time of work on the head; zero if there was none
	LimitArcmin float64   // to either side of the reference
	Reference   *float64  // arcmin; nil is the tilt at the first point
	// CyclesPerPoint is the number of cassettes put in for each measured point, 0 if they do not
	// count. nil counts one for each point whose tape was started by the plan's start command.
	CyclesPerPoint *float64
	UntilDays      float64 // how far to look ahead
}

// Drift is the result of a drift study up to now, with the data for its text.
type Drift struct {
	report.Drift
	plan     app.Schedule
	measured []study.Point
	outlook  *study.Outlook // nil if no law can be fitted
	fromDays float64        // day at which the outlook begins to count
}

// Text is the report for a terminal.
func (d Drift) Text() string { return d.Drift.Text(d.plan, d.measured, d.outlook, d.fromDays) }

// DriftOf fits the points of a drift study.
func DriftOf(ctx context.Context, b *logbook.Book, name string, o DriftOrder, now time.Time) (r Drift, err error) {
	d, err := collect(ctx, b, name, o, now)
	if err != nil {
		return r, err
	}
	r = Drift{Drift: driftReportFrom(d), plan: d.plan, measured: d.points}
	after := d.points
	if !o.Event.IsZero() {
		r.fromDays = daysFrom(d.plan.FirstDue, o.Event)
		r.Across(d.points, o.Event, r.fromDays)
		after = since(d.points, r.fromDays)
	}
	if r.outlook, err = r.Fit(after); err != nil || r.outlook == nil {
		return r, err
	}
	return r, r.Forecast(*r.outlook, o.LimitArcmin, o.Reference, o.UntilDays)
}

// Page is the report as a page.
func (d Drift) Page() sheet.Page { return d.Drift.Page(d.measured, d.outlook, d.fromDays) }

// driftData is a drift study as read from the logbook.
type driftData struct {
	plan    app.Schedule
	runs    []logbook.Summary // of the measured points
	points  []study.Point
	missing []report.DriftMissed
	toCome  int
	cycles  float64 // cassettes put in up to now
}

// collect goes through the schedule and takes the measured points.
func collect(ctx context.Context, b *logbook.Book, name string, o DriftOrder, now time.Time) (d driftData, err error) {
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
		off := app.DriftOff(s)
		d.count(there, off != nil, s.Outcome, o.CyclesPerPoint)
		switch {
		case there && off != nil:
			d.take(s, *off)
		case there:
			why, err := whyMissed(b, s)
			if err != nil {
				return d, err
			}
			d.missing = append(d.missing, report.DriftMissed{Number: n, Due: plan.Due(n), Why: why})
		case now.Before(plan.Late(n)):
			d.toCome++
		default:
			d.missing = append(d.missing, report.DriftMissed{Number: n, Due: plan.Due(n), Why: "headtrue was not running"})
		}
	}
	for _, p := range d.points {
		if p.SDArcmin == 0 { // then the others' uncertainties are useless
			for i := range d.points {
				d.points[i].SDArcmin = 0
			}
		}
	}
	return d, nil
}

// count adds the cassettes of a point: as many as given for a measured one, else one if its
// tape was started.
func (d *driftData) count(there, measured bool, outcome record.Outcome, given *float64) {
	switch {
	case given != nil && there && measured:
		d.cycles += *given
	case given == nil && d.plan.StartCommand != "" && there && outcome != record.NotReady:
		d.cycles++
	}
}

func (d *driftData) take(s logbook.Summary, off float64) {
	p := study.Point{Days: daysFrom(d.plan.FirstDue, s.Begun), Arcmin: off, TemperatureC: s.TemperatureC}
	sd := s.LeftOffSDArcmin
	if s.Command == app.CommandSearch {
		sd = s.FoundOffSDArcmin
	}
	if sd != nil {
		p.SDArcmin = *sd
	}
	if d.cycles > 0 {
		cycles := d.cycles
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

// since are the points after an event, with their days counted from it.
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
