package report

import (
	"fmt"
	"math"
	"strings"
	"time"

	"headtrue/sweep/sheet"
	"headtrue/sweep/sheet/chars"
	"headtrue/sweep/study"
)

// Drift is the present result of a drift study.
type Drift struct {
	Study    string         `json:"study"`
	FirstDue time.Time      `json:"first_due"`
	Every    float64        `json:"every_s" help:"the schedule"`
	ToCome   int            `json:"to_come" help:"number of points to come"`
	Points   []DriftPoint   `json:"points" help:"in order"`
	Missing  []DriftMissed  `json:"missing" help:"points that are missing"`
	Fits     []DriftFit     `json:"fits" help:"laws of drift, the best first"`
	Skipped  []DriftSkipped `json:"skipped" help:"laws that were not fitted"`
	Shifts   []DriftShift   `json:"shifts" help:"sudden changes"`
	Leaves   *DriftLeaves   `json:"leaves" help:"when the head leaves the tolerance"`
	Event    *DriftEvent    `json:"event" help:"the effect of the event"`
	Say      []string       `json:"say" help:"the result in words"`
}

// DriftPoint is a measured point.
type DriftPoint struct {
	Number       int       `json:"number"`
	Run          string    `json:"run"`
	Begun        time.Time `json:"begun" help:"number in the schedule, its run, and when it began"`
	Days         float64   `json:"days" help:"since the first point"`
	Arcmin       float64   `json:"arcmin"`
	SDArcmin     *float64  `json:"sd_arcmin" help:"the reading and its standard uncertainty (null if unknown)"`
	TemperatureC *float64  `json:"temperature_c" help:"of the air; null if unknown"`
}

// DriftMissed is a point that was not measured.
type DriftMissed struct {
	Number int       `json:"number"`
	Due    time.Time `json:"due"`
	Why    string    `json:"why"`
}

// DriftFit is a fitted law.
type DriftFit struct {
	Model  string       `json:"model"`
	Delta  float64      `json:"delta" help:"the law, and its AICc above that of the best"`
	Params []DriftParam `json:"params" help:"the parameters of the law"`
	N      int          `json:"n"`
	DOF    int          `json:"dof" help:"points, and degrees of freedom"`
	Scale  float64      `json:"scale" help:"scatter of the points over their stated uncertainty"`
	Lag1   float64      `json:"lag1" help:"correlation of neighbouring residuals"`
}

// DriftParam is a parameter of a fitted law.
type DriftParam struct {
	Name  string  `json:"name"`
	Unit  string  `json:"unit"`
	Value float64 `json:"value"`
	SD    float64 `json:"sd" help:"standard uncertainty"`
}

// DriftSkipped is a law that was not fitted.
type DriftSkipped struct {
	Model string `json:"model"`
	Why   string `json:"why"`
}

// DriftShift is a shift of the level between two points.
type DriftShift struct {
	After  float64 `json:"after_days"`
	Before float64 `json:"before_days" help:"it lies between these"`
	Size   float64 `json:"size_arcmin"`
	SD     float64 `json:"sd_arcmin" help:"size, and standard uncertainty"`
}

// DriftLeaves is the time at which the head leaves a tolerance.
type DriftLeaves struct {
	Limit     float64  `json:"limit_arcmin"`
	Reference float64  `json:"reference_arcmin" help:"the tolerance, and its middle"`
	Middle    *float64 `json:"middle_days"`
	Earliest  *float64 `json:"earliest_days"`
	Latest    *float64 `json:"latest_days" help:"by the expected tilt, and with 95 %; null: not by until_days"`
	Until     float64  `json:"until_days"`
	Why       string   `json:"why,omitempty" help:"how far the forecast reaches, and why not as far as asked"`
}

// DriftEvent is the step at an event, some work on the head.
type DriftEvent struct {
	At     time.Time `json:"at"`
	AtDays float64   `json:"at_days" help:"time of the event"`
	Size   *float64  `json:"size_arcmin"`
	SD     *float64  `json:"sd_arcmin" help:"size, and standard uncertainty"`
	Low    *float64  `json:"low_arcmin"`
	High   *float64  `json:"high_arcmin" help:"95 % interval"`
	Chance *float64  `json:"chance"`
	Moved  *bool     `json:"moved" help:"probability of such a step if the event did nothing, and whether it is low enough to say that the event moved the head"`
	Before int       `json:"before"`
	After  int       `json:"after" help:"points before and after"`
	Why    string    `json:"why,omitempty" help:"why it has no result"`
}

func (r *Drift) take(c study.Choice) {
	for _, ranked := range c.Ranked {
		f := ranked.Fit
		fit := DriftFit{Model: f.Model.String(), Delta: ranked.Delta, N: f.N, DOF: f.DOF, Scale: f.Scale, Lag1: f.Lag1}
		for _, p := range f.Params {
			fit.Params = append(fit.Params, DriftParam(p))
		}
		r.Fits = append(r.Fits, fit)
	}
	for _, s := range c.Skipped {
		r.Skipped = append(r.Skipped, DriftSkipped{s.Model.String(), s.Why})
	}
	r.say(c.Say())
	r.say(sheet.Capital(c.Ranked[0].Fit.Say()))
}

func (r *Drift) say(text string) { r.Say = append(r.Say, text) }

// mostMissing is the most listed for a person; --json has all.
const mostMissing = 10

// Text returns the report for a terminal: plan is the schedule in words, points are the
// measured points, and outlook is what they let expect from fromDays on; nil if no law fits.
func (r Drift) Text(plan fmt.Stringer, points []study.Point, outlook *study.Outlook, fromDays float64) string {
	var b strings.Builder
	fmt.Fprintf(&b, "STUDY %s: %v\n%d measured, %d missed, %d to come\n", r.Study, plan, len(r.Points), len(r.Missing), r.ToCome)
	s := chars.Series{}
	for _, p := range points {
		s.X, s.Y = append(s.X, p.Days), append(s.Y, p.Arcmin)
	}
	if r.Event != nil {
		s.Events = []float64{r.Event.AtDays}
	}
	if outlook != nil {
		s.Curve = func(days float64) float64 {
			if days < fromDays {
				return math.NaN()
			}
			return outlook.At(days - fromDays).Arcmin
		}
	}
	if len(points) > 0 {
		fmt.Fprintf(&b, "\n%s  arcmin over days %.3g to %.3g; . is the drift as fitted\n", s.Text(), s.X[0], s.X[len(s.X)-1])
	}
	for i, m := range r.Missing {
		if i == mostMissing {
			fmt.Fprintf(&b, "  and %d more; --json has them all\n", len(r.Missing)-mostMissing)
			break
		}
		fmt.Fprintf(&b, "%s\n", chars.Wrap(fmt.Sprintf("missed: point %d, due %s: %s", m.Number, AtMinute(m.Due), m.Why), 2))
	}
	fmt.Fprintf(&b, "\n")
	for _, said := range r.Say {
		fmt.Fprintf(&b, "%s\n", chars.Wrap(said, 0))
	}
	return b.String()
}
