package report

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"headtrue/sweep/sheet"
	"headtrue/sweep/sheet/chars"
	"headtrue/sweep/study"
)

// Chart is a control chart of one figure of many runs.
type Chart struct {
	Of          string         `json:"of"`
	In          string         `json:"in" help:"the figure of the chart, and its unit"`
	Kind        string         `json:"kind"`
	Group       string         `json:"group,omitempty" help:"individuals, or xbar by day, unit or operator"`
	Points      []ChartPoint   `json:"points" help:"the oldest first"`
	Center      float64        `json:"center"`
	Sigma       float64        `json:"sigma" help:"centre, and standard deviation of one point"`
	Lower       float64        `json:"lower"`
	Upper       float64        `json:"upper" help:"limits, 3 sigma from the centre"`
	Provisional bool           `json:"provisional"`
	Why         string         `json:"why,omitempty" help:"whether the limits rest on too few points, and the reason"`
	FalseAlarm  float64        `json:"false_alarm" help:"probability that a steady process breaks a rule by chance: within 50 points after those that give the limits, or among these if all do"`
	Findings    []ChartFinding `json:"findings" help:"broken Western Electric rules, each by the point that broke it"`
	Spread      ChartSpread    `json:"spread" help:"the chart of moving ranges, or of the ranges within groups"`
	Without     int            `json:"without" help:"runs that fit but do not have the figure"`
	Steady      bool           `json:"steady"`
	Say         string         `json:"say" help:"whether no rule was broken; the result in words"`

	cost   string    // the false alarms in words
	ranges []float64 // of the spread's chart
}

// ChartPoint is a point of a chart: one run, or a group of them.
type ChartPoint struct {
	Run   string    `json:"run"`
	Begun time.Time `json:"begun"`
	Unit  string    `json:"unit" help:"of an xbar point those of its first run"`
	Group string    `json:"group,omitempty" help:"of an xbar point"`
	Runs  int       `json:"runs" help:"number of runs in the point"`
	Value float64   `json:"value" help:"the figure"`
}

// ChartFinding is a broken rule, and the run of the point that broke it.
type ChartFinding struct {
	Rule  string    `json:"rule"`
	Above bool      `json:"above" help:"the rule, and the side of the centre"`
	Run   string    `json:"run"`
	Begun time.Time `json:"begun"`
	Unit  string    `json:"unit" help:"of the point"`

	at int
}

// ChartSpread is the chart of the ranges.
type ChartSpread struct {
	Center   float64        `json:"center"`
	Lower    float64        `json:"lower"`
	Upper    float64        `json:"upper"`
	Findings []ChartFinding `json:"findings"`
}

// Plot makes the chart from one value per run: by single runs, or by the groups of the
// points if Kind is xbar.
func (c *Chart) Plot(points []ChartPoint, values []float64, from study.Baseline) error {
	main, spread, err := c.plot(points, values, from)
	if err != nil {
		return err
	}
	c.take(main, spread)
	return nil
}

// plot makes the chart by single runs or by groups.
func (c *Chart) plot(points []ChartPoint, values []float64, from study.Baseline) (main, spread study.Chart, err error) {
	if c.Kind == "individuals" {
		c.Points = points
		return study.Individuals(values, from)
	}
	at := map[string]int{}
	var groups [][]float64
	for i, p := range points {
		n, there := at[p.Group]
		if !there {
			n = len(groups)
			at[p.Group], groups = n, append(groups, nil)
			p.Runs = 0
			c.Points = append(c.Points, p)
		}
		groups[n] = append(groups[n], values[i])
		c.Points[n].Runs++
	}
	return study.XbarR(groups, from)
}

func (c *Chart) take(main, spread study.Chart) {
	for i, v := range main.Points {
		c.Points[i].Value = v
	}
	c.Center, c.Sigma, c.Lower, c.Upper = main.CenterArcmin, main.SigmaArcmin, main.LowerArcmin, main.UpperArcmin
	c.Provisional, c.Why = main.Provisional, main.Why
	c.FalseAlarm, c.cost = main.Alarms.Probability, main.Alarms.Say()
	c.Findings = c.named(main.Findings, 0)
	later := len(c.Points) - len(spread.Points) // a moving range belongs to the later of its two runs
	c.ranges = spread.Points
	c.Spread = ChartSpread{spread.CenterArcmin, spread.LowerArcmin, spread.UpperArcmin, c.named(spread.Findings, later)}
	c.Steady = len(c.Findings)+len(c.Spread.Findings) == 0
	c.Say = "steady: no rule is broken"
	if !c.Steady {
		c.Say = fmt.Sprintf("not steady: %d times a rule is broken, and %d times a range is too wide", len(c.Findings), len(c.Spread.Findings))
	}
}

func (c *Chart) named(found []study.Finding, later int) []ChartFinding {
	all := []ChartFinding{}
	for _, f := range found {
		p := c.Points[f.At+later]
		all = append(all, ChartFinding{f.Rule.String(), f.Above, p.Run, p.Begun, p.Unit, f.At + later})
	}
	return all
}

// mostFindings is the most listed for a person; --json has all.
const mostFindings = 20

// Text returns the chart for a terminal.
func (c Chart) Text() string {
	var b strings.Builder
	s := chars.Series{Marked: make([]bool, len(c.Points)), Levels: []chars.Level{{Name: "upper", At: c.Upper}, {Name: "lower", At: c.Lower}, {Name: "mid", At: c.Center}}}
	for i, p := range c.Points {
		s.X, s.Y = append(s.X, float64(i)), append(s.Y, p.Value)
	}
	for _, f := range c.Findings {
		s.Marked[f.at] = true
	}
	fmt.Fprintf(&b, "%s in %s, %s from %s to %s; X breaks a rule\n\n", c.Of, c.In, c.points(), OnDay(c.Points[0].Begun), OnDay(c.Points[len(c.Points)-1].Begun))
	fmt.Fprintf(&b, "%s\n", s.Text())
	fmt.Fprintf(&b, "centre %.4g, sigma %.3g, limits %.4g to %.4g %s; ranges %.3g to %.3g\n", c.Center, c.Sigma, c.Lower, c.Upper, c.In, c.Spread.Lower, c.Spread.Upper)
	if c.Provisional {
		fmt.Fprintf(&b, "%s\n", c.Why)
	}
	fmt.Fprintf(&b, "%s\n", chars.Wrap(c.cost, 0))
	if c.Without > 0 {
		fmt.Fprintf(&b, "%d runs that fit have no such figure.\n", c.Without)
	}
	fmt.Fprintf(&b, "%s.\n", sheet.Capital(c.Say))
	for _, f := range c.findings() {
		fmt.Fprintf(&b, "  %s\n", f)
	}
	return b.String()
}

// points are the chart's points in words.
func (c Chart) points() string {
	if c.Group == "" {
		return fmt.Sprintf("%d runs", len(c.Points))
	}
	return fmt.Sprintf("%d groups by %s of %d runs each", len(c.Points), c.Group, c.Points[0].Runs)
}

// findings are the broken rules in words, the first ones only.
func (c Chart) findings() (lines []string) {
	all := slices.Clone(c.Findings)
	for _, f := range c.Spread.Findings {
		f.Rule = "the range is too wide"
		all = append(all, f)
	}
	for i, f := range all {
		if i == mostFindings {
			return append(lines, fmt.Sprintf("and %d more; --json has them all", len(all)-mostFindings))
		}
		side := "below"
		if f.Above {
			side = "above"
		}
		lines = append(lines, fmt.Sprintf("%s %s %s: %s, %s", f.Run, OnDay(f.Begun), f.Unit, f.Rule, side))
	}
	return lines
}
