package report

import (
	"fmt"
	"math"
	"text/tabwriter"

	"headtrue/sweep/study"
)

// Variance is an analysis of variance.
type Variance struct {
	Table      []VarianceRow    `json:"table" help:"the analysis of variance"`
	Pooled     bool             `json:"pooled,omitempty" help:"the interaction counts as error"`
	Components []VarianceSource `json:"components" help:"share of each cause in the spread of one reading"`
	Categories int              `json:"categories" help:"number of kinds of unit that can be distinguished"`
}

// VarianceRow is a row of its table.
type VarianceRow struct {
	Source string   `json:"source"`
	DF     int      `json:"df"`
	SS     float64  `json:"ss_arcmin2"`
	MS     float64  `json:"ms_arcmin2" help:"sums and means of squares"`
	F      *float64 `json:"f"`
	P      *float64 `json:"p" help:"null if not tested"`
}

// VarianceSource is the contribution of one cause to the spread.
type VarianceSource struct {
	Name      string   `json:"name"`
	Variance  float64  `json:"variance_arcmin2"`
	SD        float64  `json:"sd_arcmin" help:"as variance and as standard deviation"`
	Percent   float64  `json:"percent_of_total_sd" help:"of the total standard deviation"`
	Low       *float64 `json:"low_arcmin"`
	High      *float64 `json:"high_arcmin" help:"95 % interval, null if unknown"`
	Truncated bool     `json:"truncated" help:"estimated below zero"`
}

func (v *Variance) rows(table []study.Row) {
	for _, r := range table {
		row := VarianceRow{Source: r.Source, DF: r.DF, SS: r.SS, MS: r.MS}
		if r.Tested {
			row.F, row.P = &r.F, &r.P
		}
		v.Table = append(v.Table, row)
	}
}

func (v *Variance) component(name string, c study.Component) {
	s := VarianceSource{Name: name, Variance: c.VarianceArcmin2, SD: c.SDArcmin, Percent: c.PercentOfTotalSD, Truncated: c.Truncated}
	if c.HasInterval {
		s.Low, s.High = &c.Interval.LowArcmin, &c.Interval.HighArcmin
	}
	v.Components = append(v.Components, s)
}

// Components that no single reading has: the differences between units, and everything
// together.
const ofUnits, inTotal = "units", "total"

func crossedFrom(g study.Gauge) *Variance {
	a := &Variance{Pooled: g.Pooled, Categories: g.Categories}
	a.rows(g.Table)
	a.component("repeatability", g.Repeatability)
	a.component("operators", g.Reproducibility)
	if !g.Pooled {
		a.component("operators by units", g.Interaction)
	}
	a.component("one reading, all together", g.GaugeRR)
	a.component(ofUnits, g.Parts)
	a.component(inTotal, g.Total)
	return a
}

func nestedFrom(s study.Seatings) *Variance {
	a := &Variance{Categories: s.Categories}
	a.rows(s.Table)
	a.component("repeatability", s.Repeat)
	a.component("reseating the blade", s.Seating)
	if s.Operators > 1 {
		a.component("operators", s.Operator)
		a.component("operators by units", s.Interaction)
	}
	a.component("one reading, all together", s.GaugeRR)
	a.component(ofUnits, s.Parts)
	a.component(inTotal, s.Total)
	return a
}

// Budget is an uncertainty budget of one reading.
type Budget struct {
	Sources  []BudgetLine `json:"sources" help:"the uncertainty of one reading by cause"`
	SD       float64      `json:"sd_arcmin" help:"combined standard uncertainty"`
	DOF      *float64     `json:"dof" help:"degrees of freedom; null if known exactly"`
	Factor   float64      `json:"coverage_factor"`
	Expanded float64      `json:"expanded_arcmin" help:"expanded uncertainty of 95 %, and its factor"`
}

// BudgetLine is one source in it.
type BudgetLine struct {
	Name        string   `json:"name"`
	SD          float64  `json:"sd_arcmin" help:"standard uncertainty"`
	DOF         *float64 `json:"dof" help:"degrees of freedom; null if known exactly"`
	Sensitivity float64  `json:"sensitivity"`
	Percent     float64  `json:"percent" help:"factor with which it enters, and its share of the variance"`
}

func budgetFrom(b study.Budget) *Budget {
	known := func(dof float64) *float64 {
		if math.IsInf(dof, 1) {
			return nil
		}
		return &dof
	}
	r := &Budget{SD: b.SDArcmin, DOF: known(b.DOF), Factor: b.CoverageFactor, Expanded: b.ExpandedArcmin}
	for i, s := range b.Sources {
		r.Sources = append(r.Sources, BudgetLine{s.Name, s.SDArcmin, known(s.DOF), s.Sensitivity, b.Percent[i]})
	}
	return r
}

func (v *Variance) table(w *tabwriter.Writer, title string) {
	fmt.Fprintf(w, "\n%s\tDF\tSS\tMS\tF\tP\n", title)
	for _, t := range v.Table {
		fmt.Fprintf(w, "  %s\t%d\t%.3f\t%.4f\t%s\t%s\n", t.Source, t.DF, t.SS, t.MS, orDash("%.2f", t.F), orDash("%.3f", t.P))
	}
	fmt.Fprintf(w, "\n  SPREAD FROM\tSD\t95 %%\tOF TOTAL\n")
	for _, c := range v.Components {
		reach := "-"
		if c.Low != nil {
			reach = fmt.Sprintf("%.3f' to %.3f'", *c.Low, *c.High)
		}
		fmt.Fprintf(w, "  %s\t%.3f'\t%s\t%.0f %%\n", c.Name, c.SD, reach, c.Percent)
	}
	fmt.Fprintf(w, "  kinds of unit that can be distinguished\t%d\n", v.Categories)
}

func orDash(format string, x *float64) string {
	if x == nil {
		return "-"
	}
	return fmt.Sprintf(format, *x)
}
