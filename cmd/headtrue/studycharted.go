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

func (c *cli) showChart(drawn charted) {
	s := sheet.Series{Marked: make([]bool, len(drawn.Points)), Levels: []sheet.Level{{Name: "upper", At: drawn.Upper}, {Name: "lower", At: drawn.Lower}, {Name: "mid", At: drawn.Center}}}
	for i, p := range drawn.Points {
		s.X, s.Y = append(s.X, float64(i)), append(s.Y, p.Value)
	}
	for _, f := range drawn.Findings {
		s.Marked[f.at] = true
	}
	points := fmt.Sprintf("%d runs", len(drawn.Points))
	if drawn.Group != "" {
		points = fmt.Sprintf("%d groups by %s of %d runs each", len(drawn.Points), drawn.Group, drawn.Points[0].Runs)
	}
	c.say("%s in %s, %s from %s to %s; X breaks a rule\n", drawn.Of, drawn.In, points, onDay(drawn.Points[0].Begun), onDay(drawn.Points[len(drawn.Points)-1].Begun))
	c.say("%s", s.Text())
	c.say("centre %.4g, sigma %.3g, limits %.4g to %.4g %s; ranges %.3g to %.3g", drawn.Center, drawn.Sigma, drawn.Lower, drawn.Upper, drawn.In, drawn.Spread.Lower, drawn.Spread.Upper)
	if drawn.Provisional {
		c.say("%s", drawn.Why)
	}
	if drawn.Without > 0 {
		c.say("%d runs that fit have no such figure.", drawn.Without)
	}
	c.say("%s.", strings.ToUpper(drawn.Say[:1])+drawn.Say[1:])
	all := slices.Clone(drawn.Findings)
	for _, f := range drawn.Spread.Findings {
		f.Rule = "the range is too wide"
		all = append(all, f)
	}
	for i, f := range all {
		if i == mostFindings {
			c.say("  and %d more; --json has them all", len(all)-mostFindings)
			break
		}
		side := "below"
		if f.Above {
			side = "above"
		}
		c.say("  %s %s %s: %s, %s", f.Run, onDay(f.Begun), f.Unit, f.Rule, side)
	}
}

func onDay(t time.Time) string { return t.Local().Format("2006-01-02") }
