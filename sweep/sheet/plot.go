package sheet

import (
	"fmt"

	"headtrue/sweep/record"
	"headtrue/sweep/sheet/chars"
)

const (
	plotDB = 40 // at most: the nulls of a tone lie far below the useful range
)

// Plot draws the treble level over the screw: the measured points, the fitted curve, and below
// them the dull edges, the midpoint and the optimum.
func Plot(entries []record.Entry) string { return plot(sortOut(entries)) }

func plot(p parts) string {
	d := p.decision
	c := chars.Plot{MostY: plotDB}
	over, legend := "degrees of screw", "● measured, arrived from home   ○ arrived from the other side   · fit"
	if p.byHand {
		over, legend = p.axis.Name(), "● measured while a person turned the screw   · fit"
	}
	for i, s := range p.steps {
		mark := '○'
		if s.FromHome || p.byHand {
			mark = '●'
		}
		if at, ok := p.axis.Step(i); ok {
			c.Points = append(c.Points, chars.Point{X: at, Y: s.Reading.TrebleDB, Mark: mark})
		}
	}
	upright := func(at float64, ok bool, mark rune) {
		if ok {
			c.Uprights = append(c.Uprights, chars.Upright{X: at, Mark: mark})
		}
	}
	if d != nil {
		low, high, ok := p.axis.Edges()
		upright(low, ok, '┊')
		upright(high, ok, '┊')
		at, ok := p.axis.Estimate(d.Midpoint)
		upright(at, ok, '╎')
		at, ok = p.axis.Optimum()
		upright(at, ok, '│')
		for _, q := range p.axis.MainLobe() {
			c.Curve = append(c.Curve, chars.Point{X: q.At, Y: q.DB, Mark: '·'})
		}
	}
	for _, m := range marksOf(p) {
		c.Labels = append(c.Labels, chars.Label{X: m.at, Text: m.label})
	}
	text, cutOff := c.Text()
	text = "CURVE   treble in dB over " + over + "\n" + text + "        " + legend + "\n"
	if cutOff {
		text += "        what lies lower is drawn in the lowest row\n"
	}
	return text
}

// mark is a place on the x axis to point at.
type mark struct {
	at    float64
	label string
	kind  markKind
}

type markKind int

const (
	asFound markKind = iota
	asLeft
	dullEdge
	midpoint
	optimum
)

func marksOf(p parts) (marks []mark) {
	add := func(at float64, ok bool, label string, kind markKind) {
		if ok {
			marks = append(marks, mark{at, label, kind})
		}
	}
	at, ok := p.axis.Found()
	add(at, ok, "as found", asFound)
	if p.decision == nil {
		return marks
	}
	low, high, ok := p.axis.Edges()
	add(low, ok, fmt.Sprintf("dull edge %+.1f", low), dullEdge)
	add(high, ok, fmt.Sprintf("dull edge %+.1f", high), dullEdge)
	at, ok = p.axis.Estimate(p.decision.Midpoint)
	add(at, ok, fmt.Sprintf("midpoint %+.1f", at), midpoint)
	at, ok = p.axis.Optimum()
	add(at, ok, fmt.Sprintf("OPTIMUM %+.1f", at), optimum)
	at, ok = p.axis.Left()
	add(at, ok, "as left", asLeft)
	return marks
}
