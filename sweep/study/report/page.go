package report

import (
	"fmt"
	"time"

	"headtrue/sweep/sheet"
	"headtrue/sweep/study"
)

// Page returns the chart as one page: values and ranges over time, with what breaks a rule.
func (c Chart) Page() sheet.Page {
	zero := c.Points[0].Begun
	values := sheet.Graph{X: "date", Y: c.Of + ", " + c.In, DayZero: zero}
	ranges := sheet.Graph{X: "date", Y: "range, " + c.In, DayZero: zero}
	broken, wide := map[int]bool{}, map[int]bool{}
	for _, f := range c.Findings {
		broken[f.at] = true
	}
	for _, f := range c.Spread.Findings {
		wide[f.at] = true
	}
	last := 0.0
	later := len(c.Points) - len(c.ranges)
	for i, p := range c.Points {
		last = p.Begun.Sub(zero).Hours() / 24
		values.Dots = append(values.Dots, sheet.Dot{X: last, Y: p.Value, Broken: broken[i]})
		if i >= later {
			ranges.Dots = append(ranges.Dots, sheet.Dot{X: last, Y: c.ranges[i-later], Broken: wide[i]})
		}
	}
	level := func(name string, kind sheet.CurveKind, at float64) sheet.Curve {
		return sheet.Curve{Name: name, Kind: kind, X: []float64{0, last}, Y: []float64{at, at}}
	}
	values.Curves = []sheet.Curve{level("centre", sheet.Middle, c.Center), level("3 sigma", sheet.Limit, c.Upper), level("", sheet.Limit, c.Lower)}
	ranges.Curves = []sheet.Curve{level("centre", sheet.Middle, c.Spread.Center), level("limit", sheet.Limit, c.Spread.Upper)}
	if c.Spread.Lower > 0 {
		ranges.Curves = append(ranges.Curves, level("", sheet.Limit, c.Spread.Lower))
	}
	page := sheet.Page{Title: "Control chart", Run: c.Of, At: c.Points[len(c.Points)-1].Begun,
		Facts: []sheet.Fact{{Name: "figure", Value: c.Of + ", " + c.In}, {Name: "points", Value: c.points()}, {Name: "days", Value: OnDay(zero) + " to " + OnDay(c.Points[len(c.Points)-1].Begun)},
			{Name: "centre", Value: fmt.Sprintf("%.4g", c.Center)}, {Name: "sigma", Value: fmt.Sprintf("%.3g", c.Sigma)}, {Name: "limits", Value: fmt.Sprintf("%.4g to %.4g", c.Lower, c.Upper)}},
		Lead: []string{sheet.Capital(c.Say) + ".", c.cost}}
	if c.Provisional {
		page.Lead = append(page.Lead, c.Why)
	}
	page.Rows = [][]sheet.Block{{{Title: sheet.Capital(c.Of) + " of each point", Figure: values.Figure()}}, {{Title: c.rangesTitle(), Figure: ranges.Figure()}}}
	if items := c.findings(); items != nil {
		page.Rows = append(page.Rows, []sheet.Block{{Title: "Rules that are broken (Western Electric, 1956)", Items: items}})
	}
	return page
}

func (c Chart) rangesTitle() string {
	if c.Group == "" {
		return "Ranges from one run to the next"
	}
	return "Ranges within the groups"
}

// Page returns the study as one page: the causes of spread with their intervals, and the
// budget.
func (r Repeat) Page(at time.Time) sheet.Page {
	page := sheet.Page{Title: "Repeatability study", Run: r.Study, At: at, Lead: r.Say,
		Facts: []sheet.Fact{{Name: "study", Value: r.Study}, {Name: "trials", Value: fmt.Sprintf("%d of %d", r.Done, r.Trials)}}}
	if len(page.Lead) == 0 {
		page.Lead = []string{"Nothing can be judged yet."}
	}
	for _, part := range []struct {
		title string
		of    *Variance
		why   string
	}{{"Units by operators", r.Crossed, r.CrossedWhy}, {"Repeats within seatings of the blade", r.Nested, r.NestedWhy}} {
		if part.of == nil {
			page.Rows = append(page.Rows, []sheet.Block{{Title: part.title, Items: []string{sheet.Capital(part.why) + "."}}})
			continue
		}
		page.Rows = append(page.Rows, []sheet.Block{{Title: part.title, Figure: part.of.bars()}}, []sheet.Block{{Title: part.title + ": analysis of variance", Table: part.of.sheetTable()}})
	}
	if r.Budget != nil {
		t := &sheet.Table{Head: []string{"source", "SD, arcmin", "degrees of freedom", "share"}}
		for _, s := range r.Budget.Sources {
			t.Rows = append(t.Rows, []string{s.Name, fmt.Sprintf("%.3f", s.SD), orDash("%.0f", s.DOF), fmt.Sprintf("%.0f %%", s.Percent)})
		}
		t.Rows = append(t.Rows, []string{"together", fmt.Sprintf("%.3f", r.Budget.SD), orDash("%.0f", r.Budget.DOF), ""})
		page.Rows = append(page.Rows, []sheet.Block{{Title: "Uncertainty of one reading", Table: t,
			Note: fmt.Sprintf("With 95 %%: %.2f arcmin, %.2f times the sum (JCGM 100:2008).", r.Budget.Expanded, r.Budget.Factor)}})
	}
	return page
}

// bars draws the causes of the spread of one reading as bars of their 95 % intervals. Units
// differ by much more, so their figures stand in the note.
func (v *Variance) bars() *sheet.Figure {
	g := sheet.Graph{X: "cause", Y: "standard deviation, arcmin", DotName: "estimate", Note: "Bars are 95 %; a cause without a bar has no interval that says anything."}
	for _, c := range v.Components {
		x := float64(len(g.Names))
		switch {
		case c.Name == ofUnits && c.Low != nil:
			g.Note += fmt.Sprintf(" Units differ by %.2f arcmin (%.2f to %.2f).", c.SD, *c.Low, *c.High)
			continue
		case c.Name == ofUnits || c.Name == inTotal:
			continue
		case c.Low != nil:
			g.Bars = append(g.Bars, sheet.Bar{X: x, Low: *c.Low, High: *c.High})
		}
		g.Names, g.Dots = append(g.Names, c.Name), append(g.Dots, sheet.Dot{X: x, Y: c.SD})
	}
	return g.Figure()
}

func (v *Variance) sheetTable() *sheet.Table {
	t := &sheet.Table{Head: []string{"source", "DF", "SS", "MS", "F", "P"}}
	for _, r := range v.Table {
		t.Rows = append(t.Rows, []string{r.Source, fmt.Sprint(r.DF), fmt.Sprintf("%.3f", r.SS), fmt.Sprintf("%.4f", r.MS), orDash("%.2f", r.F), orDash("%.3f", r.P)})
	}
	return t
}

// Page returns the study as one page: the points over time with the drift as fitted and its
// band, the event, the shifts and the missed points.
func (r Drift) Page(points []study.Point, outlook *study.Outlook, fromDays float64) sheet.Page {
	g := sheet.Graph{X: "date", Y: "tilt, arcmin", DayZero: r.FirstDue}
	last := r.FirstDue
	for i, p := range points {
		g.Dots = append(g.Dots, sheet.Dot{X: p.Days, Y: p.Arcmin, SD: p.SDArcmin})
		last = r.Points[i].Begun
	}
	for _, m := range r.Missing {
		g.Missed = append(g.Missed, m.Due.Sub(r.FirstDue).Hours()/24)
	}
	if outlook != nil {
		drawOutlook(&g, *outlook, fromDays)
		r.drawLimits(&g, *outlook, fromDays)
	}
	if r.Event != nil {
		g.Marks = append(g.Marks, sheet.Mark{X: r.Event.AtDays, Name: "event " + AtMinute(r.Event.At)})
	}
	for _, s := range r.Shifts {
		g.Marks = append(g.Marks, sheet.Mark{X: fromDays + (s.After+s.Before)/2, Name: fmt.Sprintf("shift %+.2f", s.Size), Shift: true})
	}
	page := sheet.Page{Title: "Drift study", Run: r.Study, At: last, Lead: r.Say,
		Facts: []sheet.Fact{{Name: "study", Value: r.Study}, {Name: "from", Value: AtMinute(r.FirstDue)}, {Name: "to", Value: AtMinute(last)},
			{Name: "measured", Value: fmt.Sprint(len(r.Points))}, {Name: "missed", Value: fmt.Sprint(len(r.Missing))}, {Name: "to come", Value: fmt.Sprint(r.ToCome)}}}
	if len(page.Lead) == 0 {
		page.Lead = []string{"Nothing can be said yet."}
	}
	page.Rows = [][]sheet.Block{{{Title: "Tilt over time", Figure: g.Figure()}}}
	if len(r.Fits) > 0 {
		t := &sheet.Table{Head: []string{"law", "AICc above the best", "scatter over stated", "correlation of neighbours"}}
		for _, f := range r.Fits {
			t.Rows = append(t.Rows, []string{f.Model, fmt.Sprintf("%.1f", f.Delta), fmt.Sprintf("%.2f", f.Scale), fmt.Sprintf("%.2f", f.Lag1)})
		}
		page.Rows = append(page.Rows, []sheet.Block{{Title: "Laws of drift, each fitted alone", Table: t}})
	}
	return page
}

// drawOutlook draws the drift as fitted, with its 95 % band, as far as it may be foretold but
// by at most half the span of the points.
func drawOutlook(g *sheet.Graph, o study.Outlook, fromDays float64) {
	const looks = 60
	until := min(o.FarthestDays, o.LastDays+(o.LastDays-o.FirstDays)/2)
	if o.Allowed.Temperature {
		g.Note = "The drift is drawn at the mean temperature."
	}
	fit, band := sheet.Curve{Name: "drift as fitted"}, sheet.Band{Name: "its 95 % band"}
	for i := range looks + 1 {
		days := o.FirstDays + (until-o.FirstDays)*float64(i)/looks
		p := o.At(days)
		fit.X, fit.Y = append(fit.X, fromDays+days), append(fit.Y, p.Arcmin)
		band.X, band.Low, band.High = append(band.X, fromDays+days), append(band.Low, p.Interval.LowArcmin), append(band.High, p.Interval.HighArcmin)
	}
	g.Curves, g.Bands = append(g.Curves, fit), append(g.Bands, band)
}

// drawLimits draws the tolerance.
func (r Drift) drawLimits(g *sheet.Graph, o study.Outlook, fromDays float64) {
	if r.Leaves == nil {
		return
	}
	name := "tolerance"
	for _, at := range []float64{r.Leaves.Reference - r.Leaves.Limit, r.Leaves.Reference + r.Leaves.Limit} {
		g.Curves = append(g.Curves, sheet.Curve{Name: name, Kind: sheet.Limit, X: []float64{fromDays + o.FirstDays, fromDays + o.LastDays}, Y: []float64{at, at}})
		name = ""
	}
}
