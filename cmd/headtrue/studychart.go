package main

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"headtrue/sweep/logbook"
	"headtrue/sweep/record"
	"headtrue/sweep/sheet"
	"headtrue/sweep/study"
)

const chartFields = `Fields of --json, chart:
  of, in            the figure that is charted, and its unit
  kind, group       individuals, or xbar by day, unit or operator
  points            run, begun and unit (of an xbar point those of its first run), group,
                    runs (how many make it up), value
  center, sigma     of a point; lower, upper are 3 sigma away
  provisional, why  whether the limits rest on too few points
  findings          which of the Western Electric rules was broken, and by the point of
                    which run: rule, above (the centre), run, begun, unit
  spread            the chart of moving ranges, or of the ranges within the groups:
                    center, lower, upper, findings
  without           runs that fit but do not have the figure
  steady, say       whether no rule was broken; the result in words`

// figure is something that a run measures once.
type figure struct {
	unit string
	of   func(logbook.Summary) *float64
}

var figures = map[string]figure{
	"left-off":  {"arcmin", func(s logbook.Summary) *float64 { return s.LeftOffArcmin }},
	"found-off": {"arcmin", func(s logbook.Summary) *float64 { return s.FoundOffArcmin }},
	"backlash":  {"deg", func(s logbook.Summary) *float64 { return s.BacklashDeg }},
	"gearing":   {"arcmin/turn", func(s logbook.Summary) *float64 { return s.GearingArcminPerTurn }},
	"tape":      {"s", tapeOf},
}

// tapeOf is the tape of a run that came to its end: one that broke off used less.
func tapeOf(s logbook.Summary) *float64 {
	if !slices.Contains(append(goodEnds, record.LessCertain, record.Disagree), s.Outcome) {
		return nil
	}
	return &s.TapeSeconds
}

var groupings = map[string]func(logbook.Summary) string{
	"day":      func(s logbook.Summary) string { return s.Begun.Local().Format("2006-01-02") },
	"unit":     func(s logbook.Summary) string { return s.Unit },
	"operator": func(s logbook.Summary) string { return s.Operator },
}

// charted is what study chart writes for machines.
type charted struct {
	Of          string         `json:"of"`
	In          string         `json:"in"`
	Kind        string         `json:"kind"`
	Group       string         `json:"group,omitempty"`
	Points      []chartedPoint `json:"points"`
	Center      float64        `json:"center"`
	Sigma       float64        `json:"sigma"`
	Lower       float64        `json:"lower"`
	Upper       float64        `json:"upper"`
	Provisional bool           `json:"provisional"`
	Why         string         `json:"why,omitempty"`
	Findings    []chartFinding `json:"findings"`
	Spread      chartSpread    `json:"spread"`
	Without     int            `json:"without"`
	Steady      bool           `json:"steady"`
	Say         string         `json:"say"`
}

type chartedPoint struct {
	Run   string    `json:"run"`
	Begun time.Time `json:"begun"`
	Unit  string    `json:"unit"`
	Group string    `json:"group,omitempty"`
	Runs  int       `json:"runs"`
	Value float64   `json:"value"`
}

type chartFinding struct {
	Rule  string    `json:"rule"`
	Above bool      `json:"above"`
	Run   string    `json:"run"`
	Begun time.Time `json:"begun"`
	Unit  string    `json:"unit"`

	at int
}

type chartSpread struct {
	Center   float64        `json:"center"`
	Lower    float64        `json:"lower"`
	Upper    float64        `json:"upper"`
	Findings []chartFinding `json:"findings"`
}

type chartOrder struct {
	filter          filterFlags
	of, kind, group string
	from            study.Baseline
}

func (a *app) studyChartCommand() *cobra.Command {
	var o chartOrder
	cmd := &cobra.Command{
		Use: "chart", Short: "Draw a control chart of a figure of many runs, and say which runs break its rules",
		Long: `Draw a control chart of one figure of the runs that the filters pick, the oldest
first: its centre, its limits at 3 sigma, and what breaks the four Western Electric
rules. Sigma comes from the differences of neighbours (individuals) or from the
ranges within groups of equal size (xbar), of all points or of the first --baseline
ones; or both are given by --center and --sigma (of a single value).

A reference deck that is measured each morning and never set (headtrue sweep --unit
REF) tells whether the bench has moved: chart its found-off.

` + chartFields,
		Args: cobra.NoArgs,
		Example: `  headtrue study chart --of found-off --unit REF --command sweep --baseline 25
  headtrue study chart --of left-off --command align --kind xbar --group day
  headtrue study chart --of tape --job 7/26 --json`,
		RunE: func(cmd *cobra.Command, _ []string) error {
			filter, err := o.complete(cmd)
			if err != nil {
				return err
			}
			return a.withBook(cmd, true, func(ctx context.Context, b *logbook.Book) error { return a.chart(ctx, b, filter, o) })
		},
	}
	o.filter.add(cmd)
	f := cmd.Flags()
	f.StringVar(&o.of, "of", "left-off", "which `figure`: left-off, found-off, tape (seconds used), backlash, gearing")
	f.StringVar(&o.kind, "kind", "individuals", "individuals, or xbar: the means of groups")
	f.StringVar(&o.group, "group", "day", "what makes a group of xbar: day, unit or operator")
	f.IntVar(&o.from.First, "baseline", 0, "limits from the first so many points; 0 takes all")
	f.Float64Var(&o.from.CenterArcmin, "center", 0, "centre, where it is given and not taken from the points; with --sigma")
	f.Float64Var(&o.from.SigmaArcmin, "sigma", 0, "standard deviation of a single value; with --center")
	cmd.MarkFlagsRequiredTogether("center", "sigma")
	cmd.MarkFlagsMutuallyExclusive("center", "baseline")
	return cmd
}

func (o *chartOrder) complete(cmd *cobra.Command) (logbook.Filter, error) {
	filter, err := o.filter.filter()
	switch {
	case err != nil:
		return filter, err
	case figures[o.of].of == nil:
		return filter, usage("--of %q: must be left-off, found-off, tape, backlash or gearing", o.of)
	case o.kind != "individuals" && o.kind != "xbar":
		return filter, usage("--kind %q: must be individuals or xbar", o.kind)
	case o.kind == "xbar" && groupings[o.group] == nil:
		return filter, usage("--group %q: must be day, unit or operator", o.group)
	}
	o.from.Given = cmd.Flags().Changed("center")
	filter.OldestFirst = true
	return filter, nil
}

func (a *app) chart(ctx context.Context, b *logbook.Book, f logbook.Filter, o chartOrder) error {
	c := charted{Of: o.of, In: figures[o.of].unit, Kind: o.kind}
	var runs []logbook.Summary
	var values []float64
	for s, err := range b.List(ctx, f) {
		if err != nil {
			return err
		}
		if v := figures[o.of].of(s); v != nil {
			runs, values = append(runs, s), append(values, *v)
		} else {
			c.Without++
		}
	}
	if len(runs) == 0 {
		return usage("none of the %d runs that fit has a figure %s", c.Without, o.of)
	}
	main, spread, err := c.plot(runs, values, o)
	if err != nil {
		return usage("%w", err)
	}
	c.take(main, spread)
	if a.json {
		return a.writeJSON(c)
	}
	a.showChart(c)
	return nil
}

// plot has the chart made, by single runs or by groups.
func (c *charted) plot(runs []logbook.Summary, values []float64, o chartOrder) (main, spread study.Chart, err error) {
	if o.kind == "individuals" {
		for _, s := range runs {
			c.Points = append(c.Points, chartedPoint{Run: s.Run, Begun: s.Begun, Unit: s.Unit, Runs: 1})
		}
		return study.Individuals(values, o.from)
	}
	c.Group = o.group
	var names []string
	var groups [][]float64
	for i, s := range runs {
		name := groupings[o.group](s)
		at := slices.Index(names, name)
		if at < 0 {
			at = len(names)
			names, groups = append(names, name), append(groups, nil)
			c.Points = append(c.Points, chartedPoint{Run: s.Run, Begun: s.Begun, Unit: s.Unit, Group: name})
		}
		groups[at] = append(groups[at], values[i])
		c.Points[at].Runs++
	}
	return study.XbarR(groups, o.from)
}

func (c *charted) take(main, spread study.Chart) {
	for i, v := range main.Points {
		c.Points[i].Value = v
	}
	c.Center, c.Sigma, c.Lower, c.Upper = main.CenterArcmin, main.SigmaArcmin, main.LowerArcmin, main.UpperArcmin
	c.Provisional, c.Why = main.Provisional, main.Why
	c.Findings = c.named(main.Findings, 0)
	later := len(c.Points) - len(spread.Points) // a moving range belongs to the later of its two runs
	c.Spread = chartSpread{spread.CenterArcmin, spread.LowerArcmin, spread.UpperArcmin, c.named(spread.Findings, later)}
	c.Steady = len(c.Findings)+len(c.Spread.Findings) == 0
	c.Say = "steady: no rule is broken"
	if !c.Steady {
		c.Say = fmt.Sprintf("not steady: %d times a rule is broken, and %d times a range is too wide", len(c.Findings), len(c.Spread.Findings))
	}
}

func (c *charted) named(found []study.Finding, later int) []chartFinding {
	all := []chartFinding{}
	for _, f := range found {
		p := c.Points[f.At+later]
		all = append(all, chartFinding{f.Rule.String(), f.Above, p.Run, p.Begun, p.Unit, f.At + later})
	}
	return all
}

// mostFindings are listed for a person; --json has them all.
const mostFindings = 20

func (a *app) showChart(c charted) {
	s := sheet.Series{Marked: make([]bool, len(c.Points)), Levels: []sheet.Level{{Name: "upper", At: c.Upper}, {Name: "lower", At: c.Lower}, {Name: "mid", At: c.Center}}}
	for i, p := range c.Points {
		s.X, s.Y = append(s.X, float64(i)), append(s.Y, p.Value)
	}
	for _, f := range c.Findings {
		s.Marked[f.at] = true
	}
	points := fmt.Sprintf("%d runs", len(c.Points))
	if c.Group != "" {
		points = fmt.Sprintf("%d groups by %s of %d runs each", len(c.Points), c.Group, c.Points[0].Runs)
	}
	a.say("%s in %s, %s from %s to %s; X breaks a rule\n", c.Of, c.In, points, onDay(c.Points[0].Begun), onDay(c.Points[len(c.Points)-1].Begun))
	a.say("%s", s.Text())
	a.say("centre %.4g, sigma %.3g, limits %.4g to %.4g %s; ranges %.3g to %.3g", c.Center, c.Sigma, c.Lower, c.Upper, c.In, c.Spread.Lower, c.Spread.Upper)
	if c.Provisional {
		a.say("%s", c.Why)
	}
	if c.Without > 0 {
		a.say("%d runs that fit have no such figure.", c.Without)
	}
	a.say("%s.", strings.ToUpper(c.Say[:1])+c.Say[1:])
	all := slices.Clone(c.Findings)
	for _, f := range c.Spread.Findings {
		f.Rule = "the range is too wide"
		all = append(all, f)
	}
	for i, f := range all {
		if i == mostFindings {
			a.say("  and %d more; --json has them all", len(all)-mostFindings)
			break
		}
		side := "below"
		if f.Above {
			side = "above"
		}
		a.say("  %s %s %s: %s, %s", f.Run, onDay(f.Begun), f.Unit, f.Rule, side)
	}
}

func onDay(t time.Time) string { return t.Local().Format("2006-01-02") }
