package main

import (
	"fmt"
	"math"
	"text/tabwriter"

	"headtrue/sweep/sheet"
	"headtrue/sweep/study"
)

// analysed is an analysis of variance as repeat report writes it.
type analysed struct {
	Table      []anovaRow   `json:"table"`
	Pooled     bool         `json:"pooled,omitempty"`
	Components []spreadFrom `json:"components"`
	Categories int          `json:"categories"`
}

type anovaRow struct {
	Source string   `json:"source"`
	DF     int      `json:"df"`
	SS     float64  `json:"ss_arcmin2"`
	MS     float64  `json:"ms_arcmin2"`
	F      *float64 `json:"f"`
	P      *float64 `json:"p"`
}

type spreadFrom struct {
	Name      string   `json:"name"`
	Variance  float64  `json:"variance_arcmin2"`
	SD        float64  `json:"sd_arcmin"`
	Percent   float64  `json:"percent_of_total_sd"`
	Low       *float64 `json:"low_arcmin"`
	High      *float64 `json:"high_arcmin"`
	Truncated bool     `json:"truncated"`
}

func (a *analysed) rows(table []study.Row) {
	for _, r := range table {
		row := anovaRow{Source: r.Source, DF: r.DF, SS: r.SS, MS: r.MS}
		if r.Tested {
			row.F, row.P = &r.F, &r.P
		}
		a.Table = append(a.Table, row)
	}
}

func (a *analysed) component(name string, c study.Component) {
	s := spreadFrom{Name: name, Variance: c.VarianceArcmin2, SD: c.SDArcmin, Percent: c.PercentOfTotalSD, Truncated: c.Truncated}
	if c.HasInterval {
		s.Low, s.High = &c.Interval.LowArcmin, &c.Interval.HighArcmin
	}
	a.Components = append(a.Components, s)
}

func crossedFrom(g study.Gauge) *analysed {
	a := &analysed{Pooled: g.Pooled, Categories: g.Categories}
	a.rows(g.Table)
	a.component("repeatability", g.Repeatability)
	a.component("operators", g.Reproducibility)
	if !g.Pooled {
		a.component("operators by units", g.Interaction)
	}
	a.component("one reading, all together", g.GaugeRR)
	a.component("units", g.Parts)
	a.component("total", g.Total)
	return a
}

func nestedFrom(s study.Seatings) *analysed {
	a := &analysed{Categories: s.Categories}
	a.rows(s.Table)
	a.component("repeatability", s.Repeat)
	a.component("reseating the blade", s.Seating)
	a.component("one reading, both together", s.GaugeRR)
	a.component("units, by each operator", s.Parts)
	a.component("total", s.Total)
	return a
}

type budgeted struct {
	Sources  []budgetLine `json:"sources"`
	SD       float64      `json:"sd_arcmin"`
	DOF      *float64     `json:"dof"`
	Factor   float64      `json:"coverage_factor"`
	Expanded float64      `json:"expanded_arcmin"`
}

type budgetLine struct {
	Name        string   `json:"name"`
	SD          float64  `json:"sd_arcmin"`
	DOF         *float64 `json:"dof"`
	Sensitivity float64  `json:"sensitivity"`
	Percent     float64  `json:"percent"`
}

func budgetFrom(b study.Budget) *budgeted {
	known := func(dof float64) *float64 {
		if math.IsInf(dof, 1) {
			return nil
		}
		return &dof
	}
	r := &budgeted{SD: b.SDArcmin, DOF: known(b.DOF), Factor: b.CoverageFactor, Expanded: b.ExpandedArcmin}
	for i, s := range b.Sources {
		r.Sources = append(r.Sources, budgetLine{s.Name, s.SDArcmin, known(s.DOF), s.Sensitivity, b.Percent[i]})
	}
	return r
}

func (c *cli) showRepeat(r repeatReport) error {
	c.say("STUDY %s: %d of %d trials measured", r.Study, r.Done, r.Trials)
	for _, t := range r.Missing {
		c.say("  missing: %s", t)
	}
	w := tabwriter.NewWriter(c.out, 2, 8, 2, ' ', 0)
	for _, part := range []struct {
		title string
		of    *analysed
		why   string
	}{{"Units by operators", r.Crossed, r.CrossedWhy}, {"Repeats within seatings", r.Nested, r.NestedWhy}} {
		if part.of == nil {
			fmt.Fprintf(w, "\n%s: %s\n", part.title, part.why)
			continue
		}
		part.of.table(w, part.title)
	}
	if r.Budget != nil {
		fmt.Fprintf(w, "\nUncertainty of one reading\tSD\tDF\tSHARE\n")
		for _, s := range r.Budget.Sources {
			fmt.Fprintf(w, "  %s\t%.3f'\t%s\t%.0f %%\n", s.Name, s.SD, orDash("%.0f", s.DOF), s.Percent)
		}
		fmt.Fprintf(w, "  together\t%.3f'\t%s\ttimes %.2f is %.2f'\n", r.Budget.SD, orDash("%.0f", r.Budget.DOF), r.Budget.Factor, r.Budget.Expanded)
	}
	if err := w.Flush(); err != nil {
		return err
	}
	c.say("")
	for _, said := range r.Say {
		c.say("%s", sheet.Wrap(said, 0))
	}
	return nil
}

func (a *analysed) table(w *tabwriter.Writer, title string) {
	fmt.Fprintf(w, "\n%s\tDF\tSS\tMS\tF\tP\n", title)
	for _, t := range a.Table {
		fmt.Fprintf(w, "  %s\t%d\t%.3f\t%.4f\t%s\t%s\n", t.Source, t.DF, t.SS, t.MS, orDash("%.2f", t.F), orDash("%.3f", t.P))
	}
	fmt.Fprintf(w, "\n  SPREAD FROM\tSD\t95 %%\tOF TOTAL\n")
	for _, c := range a.Components {
		reach := "-"
		if c.Low != nil {
			reach = fmt.Sprintf("%.3f' to %.3f'", *c.Low, *c.High)
		}
		fmt.Fprintf(w, "  %s\t%.3f'\t%s\t%.0f %%\n", c.Name, c.SD, reach, c.Percent)
	}
	fmt.Fprintf(w, "  kinds of unit told apart\t%d\n", a.Categories)
}

func orDash(format string, x *float64) string {
	if x == nil {
		return "-"
	}
	return fmt.Sprintf(format, *x)
}
