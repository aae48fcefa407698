// Package chars draws plots in the characters of a terminal: curves over an angle, and series over
// time or over their number. It measures and decides nothing.
package chars

import (
	"fmt"
	"math"
	"sort"
	"strings"
)

// Width is the width of a plot, in columns.
const Width = 80

const (
	plotHeight = 16
	axisWidth  = 8 // columns left of the plot, for the levels
	plotWidth  = Width - axisWidth - 1
)

// Point is a place in a plot, and the character that marks it.
type Point struct {
	X, Y float64
	Mark rune
}

// Upright is a line from top to bottom.
type Upright struct {
	X    float64
	Mark rune
}

// Label is a text below the axis that points at a place.
type Label struct {
	X    float64
	Text string
}

// Plot is levels over an angle. Points determine the range of X. Lower levels than MostY below the
// top are drawn in the lowest row.
type Plot struct {
	Points, Curve []Point
	Uprights      []Upright
	Labels        []Label
	MostY         float64
}

// Text draws the plot; cutOff reports whether lower levels are drawn in the lowest row.
func (p Plot) Text() (text string, cutOff bool) {
	g := newGrid(p)
	for _, u := range p.Uprights {
		g.vertical(u.X, u.Mark)
	}
	for _, set := range [][]Point{p.Curve, p.Points} {
		for _, q := range set {
			g.put(q.X, q.Y, q.Mark)
		}
	}
	return g.text() + g.labels(p.Labels), g.cutOff
}

// grid is the characters of the plot, with its scales.
type grid struct {
	cells       [plotHeight][plotWidth]rune
	x0, x1      float64 // degrees at the first and last column
	bottom, top float64 // dB
	cutOff      bool    // lower values are drawn in the lowest row
}

func newGrid(p Plot) *grid {
	g := &grid{x0: math.Inf(1), x1: math.Inf(-1), bottom: math.Inf(1), top: math.Inf(-1)}
	widen := func(deg, db float64) {
		g.x0, g.x1 = min(g.x0, deg), max(g.x1, deg)
		g.bottom, g.top = min(g.bottom, db), max(g.top, db)
	}
	for _, q := range p.Points {
		widen(q.X, q.Y)
	}
	for _, q := range p.Curve {
		if q.X >= g.x0 && q.X <= g.x1 {
			widen(q.X, q.Y)
		}
	}
	if len(p.Points) == 0 {
		g.x0, g.x1, g.bottom, g.top = -1, 1, -1, 1
	}
	if g.x1-g.x0 < 1 {
		g.x0, g.x1 = g.x0-1, g.x1+1
	}
	if g.top-g.bottom > p.MostY {
		g.bottom, g.cutOff = g.top-p.MostY, true
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

// labels sets the labels below the axis, each in the first row where it does not touch
// another.
func (g *grid) labels(labels []Label) string {
	sort.SliceStable(labels, func(i, j int) bool { return labels[i].X < labels[j].X })
	var rows [][]rune
	for _, l := range labels {
		col, inside := g.column(l.X)
		if !inside {
			continue
		}
		text := []rune("▲ " + l.Text)
		at := axisWidth + col
		if at+len(text) > Width {
			text = []rune(l.Text + " ▲")
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
