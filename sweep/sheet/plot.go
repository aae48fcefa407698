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
	for _, s := range p.steps {
		mark := '○'
		if s.FromHome {
			mark = '●'
		}
		c.Points = append(c.Points, chars.Point{X: p.onHomeScale(s), Y: s.Reading.TrebleDB, Mark: mark})
	}
	if d != nil {
		if hasEdges(d) {
			c.Uprights = append(c.Uprights, chars.Upright{X: d.LowEdgeDeg, Mark: '┊'}, chars.Upright{X: d.HighEdgeDeg, Mark: '┊'})
		}
		if d.Midpoint.OK {
			c.Uprights = append(c.Uprights, chars.Upright{X: d.Midpoint.Deg, Mark: '╎'})
		}
		if d.Optimum.OK {
			c.Uprights = append(c.Uprights, chars.Upright{X: d.Optimum.Deg, Mark: '│'})
		}
		for _, q := range mainLobe(d) {
			c.Curve = append(c.Curve, chars.Point{X: q.ScrewDeg, Y: q.TrebleDB, Mark: '·'})
		}
	}
	for _, m := range marksOf(d) {
		c.Labels = append(c.Labels, chars.Label{X: m.deg, Text: m.label})
	}
	text, cutOff := c.Text()
	text = "CURVE   treble in dB over degrees of screw\n" + text + "        ● measured, arrived from home   ○ arrived from the other side   · fit\n"
	if cutOff {
		text += "        what lies lower is drawn in the lowest row\n"
	}
	return text
}

func hasEdges(d *record.Decision) bool { return d.LowEdgeDeg < d.HighEdgeDeg }

// mark is an angle of the screw to point at.
type mark struct {
	deg   float64
	label string
	kind  markKind
}

type markKind int

const (
	asFound markKind = iota
	dullEdge
	midpoint
	optimum
)

func marksOf(d *record.Decision) []mark {
	marks := []mark{{0, "as found", asFound}}
	if d == nil {
		return marks
	}
	if hasEdges(d) {
		marks = append(marks,
			mark{d.LowEdgeDeg, fmt.Sprintf("dull edge %+.1f", d.LowEdgeDeg), dullEdge},
			mark{d.HighEdgeDeg, fmt.Sprintf("dull edge %+.1f", d.HighEdgeDeg), dullEdge})
	}
	if d.Midpoint.OK {
		marks = append(marks, mark{d.Midpoint.Deg, fmt.Sprintf("midpoint %+.1f", d.Midpoint.Deg), midpoint})
	}
	if d.Optimum.OK {
		marks = append(marks, mark{d.Optimum.Deg, fmt.Sprintf("OPTIMUM %+.1f", d.Optimum.Deg), optimum})
	}
	return marks
}
