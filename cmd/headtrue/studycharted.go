package main

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"headtrue/sweep/sheet"
	"headtrue/sweep/study"
)

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
