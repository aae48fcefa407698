// Package studies reads the data of a study from the logbook and makes its report: the runs of
// a plan, or any figure of any runs.
package studies

import (
	"context"

	"headtrue/cmd/headtrue/app"
	"headtrue/sweep/logbook"
	"headtrue/sweep/study"
	"headtrue/sweep/study/report"
)

// Figure is a quantity that a run measures once.
type Figure struct {
	Unit string
	Of   func(logbook.Summary) *float64
}

// Figures are the figures of runs, by name.
var Figures = map[string]Figure{
	"left-off":  {"arcmin", func(s logbook.Summary) *float64 { return s.LeftOffArcmin }},
	"found-off": {"arcmin", func(s logbook.Summary) *float64 { return s.FoundOffArcmin }},
	"backlash":  {"deg", func(s logbook.Summary) *float64 { return s.BacklashDeg }},
	"gearing":   {"arcmin/turn", func(s logbook.Summary) *float64 { return s.GearingArcminPerTurn }},
	"tape":      {"s", tapeOf},
}

// tapeOf is the tape of a finished run; a run that broke off used less.
func tapeOf(s logbook.Summary) *float64 {
	if !s.Outcome.Finished() {
		return nil
	}
	return &s.TapeSeconds
}

// Groupings are the ways to group runs.
var Groupings = map[string]func(logbook.Summary) string{
	"day":      func(s logbook.Summary) string { return report.OnDay(s.Begun) },
	"unit":     func(s logbook.Summary) string { return s.Unit },
	"operator": func(s logbook.Summary) string { return s.Operator },
}

// ChartOf makes a control chart of a figure of the runs within the filter: of single runs or,
// for xbar, of groups of runs.
func ChartOf(ctx context.Context, b *logbook.Book, f logbook.Filter, of, kind, group string, from study.Baseline) (drawn report.Chart, err error) {
	drawn = report.Chart{Of: of, In: Figures[of].Unit, Kind: kind}
	var points []report.ChartPoint // one for each run
	var values []float64
	for s, err := range b.List(ctx, f) {
		if err != nil {
			return drawn, err
		}
		v := Figures[of].Of(s)
		if v == nil {
			drawn.Without++
			continue
		}
		p := report.ChartPoint{Run: s.Run, Begun: s.Begun, Unit: s.Unit, Runs: 1}
		if kind == "xbar" {
			p.Group = Groupings[group](s)
		}
		points, values = append(points, p), append(values, *v)
	}
	if len(points) == 0 {
		return drawn, app.Wrong("none of the %d runs that fit has a figure %s", drawn.Without, of)
	}
	if kind == "xbar" {
		drawn.Group = group
	}
	if err := drawn.Plot(points, values, from); err != nil {
		return drawn, app.Wrong("%w", err)
	}
	return drawn, nil
}
