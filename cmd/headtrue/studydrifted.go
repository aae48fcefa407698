package main

import (
	"fmt"
	"math"
	"time"

	"headtrue/cmd/headtrue/app"
	"headtrue/sweep/sheet"
	"headtrue/sweep/study"
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

// driftReport is what drift report writes for machines.
type driftReport struct {
	Study    string         `json:"study"`
	FirstDue time.Time      `json:"first_due"`
	Every    float64        `json:"every_s"`
	ToCome   int            `json:"to_come"`
	Points   []driftPoint   `json:"points"`
	Missing  []driftMissed  `json:"missing"`
	Fits     []driftFit     `json:"fits"`
	Skipped  []driftSkipped `json:"skipped"`
	Shifts   []driftShift   `json:"shifts"`
	Leaves   *driftLeaves   `json:"leaves"`
	Event    *driftEvent    `json:"event"`
	Say      []string       `json:"say"`
}

type driftPoint struct {
	Number       int       `json:"number"`
	Run          string    `json:"run"`
	Begun        time.Time `json:"begun"`
	Days         float64   `json:"days"`
	Arcmin       float64   `json:"arcmin"`
	SDArcmin     *float64  `json:"sd_arcmin"`
	TemperatureC *float64  `json:"temperature_c"`
}

type driftMissed struct {
	Number int       `json:"number"`
	Due    time.Time `json:"due"`
	Why    string    `json:"why"`
}

type driftFit struct {
	Model  string       `json:"model"`
	Delta  float64      `json:"delta"`
	Params []driftParam `json:"params"`
	N      int          `json:"n"`
	DOF    int          `json:"dof"`
	Scale  float64      `json:"scale"`
	Lag1   float64      `json:"lag1"`
}

type driftParam struct {
	Name  string  `json:"name"`
	Unit  string  `json:"unit"`
	Value float64 `json:"value"`
	SD    float64 `json:"sd"`
}

type driftSkipped struct {
	Model string `json:"model"`
	Why   string `json:"why"`
}

type driftShift struct {
	After  float64 `json:"after_days"`
	Before float64 `json:"before_days"`
	Size   float64 `json:"size_arcmin"`
	SD     float64 `json:"sd_arcmin"`
}

type driftLeaves struct {
	Limit     float64  `json:"limit_arcmin"`
	Reference float64  `json:"reference_arcmin"`
	Middle    *float64 `json:"middle_days"`
	Earliest  *float64 `json:"earliest_days"`
	Latest    *float64 `json:"latest_days"`
}

type driftEvent struct {
	At     time.Time `json:"at"`
	AtDays float64   `json:"at_days"`
	Size   *float64  `json:"size_arcmin"`
	SD     *float64  `json:"sd_arcmin"`
	Low    *float64  `json:"low_arcmin"`
	High   *float64  `json:"high_arcmin"`
	Before int       `json:"before"`
	After  int       `json:"after"`
	Why    string    `json:"why,omitempty"`
}

func driftReportFrom(d driftData) driftReport {
	r := driftReport{Study: d.plan.Study, FirstDue: d.plan.FirstDue, Every: d.plan.EverySeconds, ToCome: d.toCome,
		Points: []driftPoint{}, Missing: append([]driftMissed{}, d.missing...), Fits: []driftFit{}, Skipped: []driftSkipped{}, Shifts: []driftShift{}, Say: []string{}}
	for i, p := range d.points {
		s := d.runs[i]
		point := driftPoint{Number: s.Trial, Run: s.Run, Begun: s.Begun, Days: p.Days, Arcmin: p.Arcmin, TemperatureC: p.TemperatureC}
		if p.SDArcmin > 0 {
			point.SDArcmin = &p.SDArcmin
		}
		r.Points = append(r.Points, point)
	}
	return r
}

func (r *driftReport) take(c study.Choice) {
	for _, ranked := range c.Ranked {
		f := ranked.Fit
		fit := driftFit{Model: f.Model.String(), Delta: ranked.Delta, N: f.N, DOF: f.DOF, Scale: f.Scale, Lag1: f.Lag1}
		for _, p := range f.Params {
			fit.Params = append(fit.Params, driftParam(p))
		}
		r.Fits = append(r.Fits, fit)
	}
	for _, s := range c.Skipped {
		r.Skipped = append(r.Skipped, driftSkipped{s.Model.String(), s.Why})
	}
	r.say(c.Say())
	r.say(c.Ranked[0].Fit.Say())
}

func (r *driftReport) say(text string) { r.Say = append(r.Say, text) }

// mostMissing are listed for a person; --json has them all.
const mostMissing = 10

func (c *cli) showDrift(r driftReport, d driftData, best *study.Fit, fromDays float64) {
	c.say("STUDY %s: %v\n%d measured, %d missed, %d to come", r.Study, d.plan, len(r.Points), len(r.Missing), r.ToCome)
	s := sheet.Series{}
	for _, p := range d.points {
		s.X, s.Y = append(s.X, p.Days), append(s.Y, p.Arcmin)
	}
	if r.Event != nil {
		s.Events = []float64{r.Event.AtDays}
	}
	if best != nil {
		s.Curve = func(days float64) float64 {
			if days < fromDays {
				return math.NaN()
			}
			return best.Forecast(study.Point{Days: days - fromDays}).Arcmin
		}
	}
	if len(d.points) > 0 {
		c.say("\n%s  arcmin over days %.3g to %.3g; . is the best fit", s.Text(), s.X[0], s.X[len(s.X)-1])
	}
	for i, m := range r.Missing {
		if i == mostMissing {
			c.say("  and %d more; --json has them all", len(r.Missing)-mostMissing)
			break
		}
		c.say("%s", sheet.Wrap(fmt.Sprintf("missed: point %d, due %s: %s", m.Number, app.AtMinute(m.Due), m.Why), 2))
	}
	c.say("")
	for _, said := range r.Say {
		c.say("%s", sheet.Wrap(said, 0))
	}
}
