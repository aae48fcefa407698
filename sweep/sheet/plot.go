package sheet

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"

	"headtrue/sweep/record"
)

const (
	plotHeight = 16
	axisWidth  = 8 // columns left of the plot, for the levels
	plotWidth  = Width - axisWidth - 1
	plotDB     = 40 // at most: the nulls of a tone lie far below the useful range
)

// Plot draws the treble level over the screw: the measured points, the fitted curve, and below
// them the dull edges, the midpoint and the optimum.
func Plot(entries []record.Entry) string { return plot(sortOut(entries)) }

func plot(p parts) string {
	d := p.decision
	steps := slices.Clone(p.steps)
	for i, s := range steps {
		steps[i].ScrewDeg = p.onHomeScale(s)
	}
	g := newGrid(steps, d)
	if d != nil {
		for _, x := range []float64{d.LowEdgeDeg, d.HighEdgeDeg} {
			if hasEdges(d) {
				g.vertical(x, '┊')
			}
		}
		if d.Midpoint.OK {
			g.vertical(d.Midpoint.Deg, '╎')
		}
		if d.Optimum.OK {
			g.vertical(d.Optimum.Deg, '│')
		}
		for _, p := range mainLobe(d) {
			g.put(p.ScrewDeg, p.TrebleDB, '·')
		}
	}
	for _, s := range steps {
		mark := '○'
		if s.FromHome {
			mark = '●'
		}
		g.put(s.ScrewDeg, s.Reading.TrebleDB, mark)
	}
	var b strings.Builder
	b.WriteString("CURVE   treble in dB over degrees of screw\n")
	b.WriteString(g.text())
	b.WriteString(g.markers(marksOf(d)))
	b.WriteString("        ● measured, arrived from home   ○ arrived from the other side   · fit\n")
	if g.cutOff {
		b.WriteString("        what lies lower is drawn in the lowest row\n")
	}
	return b.String()
}

func hasEdges(d *record.Decision) bool { return d.LowEdgeDeg < d.HighEdgeDeg }

// grid is the characters of the plot, with its scales.
type grid struct {
	cells       [plotHeight][plotWidth]rune
	x0, x1      float64 // degrees at the first and last column
	bottom, top float64 // dB
	cutOff      bool    // lower values are drawn in the lowest row
}

func newGrid(steps []record.Step, d *record.Decision) *grid {
	g := &grid{x0: math.Inf(1), x1: math.Inf(-1), bottom: math.Inf(1), top: math.Inf(-1)}
	widen := func(deg, db float64) {
		g.x0, g.x1 = min(g.x0, deg), max(g.x1, deg)
		g.bottom, g.top = min(g.bottom, db), max(g.top, db)
	}
	for _, s := range steps {
		widen(s.ScrewDeg, s.Reading.TrebleDB)
	}
	if d != nil {
		for _, p := range mainLobe(d) {
			if p.ScrewDeg >= g.x0 && p.ScrewDeg <= g.x1 {
				widen(p.ScrewDeg, p.TrebleDB)
			}
		}
	}
	if len(steps) == 0 {
		g.x0, g.x1, g.bottom, g.top = -1, 1, -1, 1
	}
	if g.x1-g.x0 < 1 {
		g.x0, g.x1 = g.x0-1, g.x1+1
	}
	if g.top-g.bottom > plotDB {
		g.bottom, g.cutOff = g.top-plotDB, true
	}
	if g.top-g.bottom < 1 {
		g.bottom, g.top = g.bottom-1, g.top+1
	}
	for row := range g.cells {
		for col := range g.cells[row] {
			g.cells[row][col] = ' '
		}
	}
	return g
}

// column is the column of an angle; ok is false outside the plot.
func (g *grid) column(deg float64) (col int, ok bool) {
	col = int(math.Round((deg - g.x0) / (g.x1 - g.x0) * (plotWidth - 1)))
	return col, col >= 0 && col < plotWidth
}

func (g *grid) put(deg, db float64, mark rune) {
	col, inside := g.column(deg)
	row := int(math.Round((g.top - max(db, g.bottom)) / (g.top - g.bottom) * (plotHeight - 1)))
	if inside && row >= 0 && row < plotHeight {
		g.cells[row][col] = mark
	}
}

func (g *grid) vertical(deg float64, mark rune) {
	if col, inside := g.column(deg); inside {
		for row := range g.cells {
			g.cells[row][col] = mark
		}
	}
}

// text is the field with its axes.
func (g *grid) text() string {
	var b strings.Builder
	for row := range g.cells {
		label := ""
		if row%5 == 0 {
			label = fmt.Sprintf("%+.1f", g.top-(g.top-g.bottom)*float64(row)/(plotHeight-1))
		}
		fmt.Fprintf(&b, "%*s ┤%s\n", axisWidth-2, label, strings.TrimRight(string(g.cells[row][:]), " "))
	}
	axis := []rune(strings.Repeat("─", plotWidth))
	numbers := []rune(strings.Repeat(" ", Width))
	for i := range 5 {
		deg := g.x0 + (g.x1-g.x0)*float64(i)/4
		col, _ := g.column(deg)
		axis[col] = '┴'
		label := []rune(fmt.Sprintf("%+.0f", deg))
		at := min(axisWidth+col-len(label)/2, Width-len(label))
		copy(numbers[at:], label)
	}
	fmt.Fprintf(&b, "%*s└%s\n%s\n", axisWidth-1, "", string(axis), strings.TrimRight(string(numbers), " "))
	return b.String()
}

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

// markers sets the marks below the axis, each in the first row where it does not touch
// another.
func (g *grid) markers(marks []mark) string {
	sort.SliceStable(marks, func(i, j int) bool { return marks[i].deg < marks[j].deg })
	var rows [][]rune
	for _, m := range marks {
		col, inside := g.column(m.deg)
		if !inside {
			continue
		}
		text := []rune("▲ " + m.label)
		at := axisWidth + col
		if at+len(text) > Width {
			text = []rune(m.label + " ▲")
			at -= len(text) - 1
		}
		rows = place(rows, text, at)
	}
	var b strings.Builder
	for _, row := range rows {
		b.WriteString(strings.TrimRight(string(row), " ") + "\n")
	}
	return b.String()
}

func place(rows [][]rune, text []rune, at int) [][]rune {
	for i, row := range rows {
		from, to := max(at-2, 0), min(at+len(text)+2, Width)
		if strings.TrimSpace(string(row[from:to])) == "" {
			copy(rows[i][at:], text)
			return rows
		}
	}
	row := []rune(strings.Repeat(" ", Width))
	copy(row[at:], text)
	return append(rows, row)
}
