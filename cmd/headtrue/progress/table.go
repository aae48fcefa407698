package progress

import (
	"fmt"
	"math"
	"strings"

	"headtrue/cmd/headtrue/terminal"
)

// line is a line of the table.
type line struct {
	seconds, screwDeg, trebleDB, delayUS, tiltArcmin, levelDBFS float64
	step, what                                                  string
	bar                                                         float64 // 0 to 1
}

// column is a column of the table.
type column struct {
	name, unit string
	width      int // 0 takes the rest
	cell       func(l line) string
}

func number(format string, of func(l line) float64) func(line) string {
	return func(l line) string {
		x := of(l)
		if math.IsNaN(x) {
			return "-"
		}
		return fmt.Sprintf(format, x)
	}
}

// columns are all columns; those at the end are left out where there is no room.
var columns = []column{
	{"time", "s", 5, number("%.1f", func(l line) float64 { return l.seconds })},
	{"step", "", -8, func(l line) string { return l.step }},
	{"what", "", -10, func(l line) string { return l.what }},
	{"screw", "deg", 6, number("%+.1f", func(l line) float64 { return l.screwDeg })},
	{"treble", "dB", 6, number("%+.1f", func(l line) float64 { return l.trebleDB })},
	{"tilt", "'", 5, number("%+.1f", func(l line) float64 { return l.tiltArcmin })},
	{"delay", "us", 6, number("%+.1f", func(l line) float64 { return l.delayUS })},
	{"level", "dBFS", 5, number("%.1f", func(l line) float64 { return l.levelDBFS })},
}

const (
	shortestBar = 6
	longestBar  = 80
	// narrow is the width below which a sentence follows its phase, and not the columns.
	narrow = 60
	// sayColumn is the column of the sentences else: behind time, step and what.
	sayColumn = 26
)

// layout is the table as it fits an output.
type layout struct {
	columns []column
	bar     int // 0 is none
}

func layoutFor(d terminal.Display) (l layout) {
	used := -1 // the first column has no blank before it
	for _, c := range columns {
		w := 1 + max(c.width, -c.width)
		if used+w > d.Columns() {
			return l
		}
		used += w
		l.columns = append(l.columns, c)
	}
	if l.bar = min(d.Columns()-used-1, longestBar); l.bar < shortestBar {
		l.bar = 0
	}
	return l
}

// heads are the two lines at the top of the table.
func (l layout) heads() string {
	names := l.row(func(c column) string { return c.name })
	if l.bar > 0 {
		names += " treble"
	}
	return names + "\n" + l.row(func(c column) string { return c.unit }) + "\n"
}

func (l layout) row(cell func(c column) string) string {
	var b strings.Builder
	for i, c := range l.columns {
		if i > 0 {
			b.WriteByte(' ')
		}
		fmt.Fprintf(&b, "%*s", c.width, cell(c))
	}
	return strings.TrimRight(b.String(), " ")
}

func (l layout) text(of line) string {
	text := l.row(func(c column) string { return c.cell(of) })
	if n := int(of.bar*float64(l.bar) + 0.5); n > 0 {
		text += " " + strings.Repeat("█", min(n, l.bar))
	}
	return text
}
