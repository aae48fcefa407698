package chars

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// Series is a row of values over time, or over their number, drawn as text. X rises; Marked
// values are drawn as X instead of o. Levels are named horizontal lines. Curve, if there is
// one, is drawn wherever it is a number. Events are positions in X.
type Series struct {
	X, Y   []float64
	Marked []bool
	Levels []Level
	Curve  func(x float64) float64
	Events []float64
}

// Level is a horizontal line of a series.
type Level struct {
	Name string
	At   float64
}

// Layout for a terminal of 80 columns: the scale, a border, the points.
const (
	seriesColumns = 66
	seriesRows    = 17
)

// Text draws the series.
func (s Series) Text() string {
	if len(s.Y) == 0 {
		return ""
	}
	low, high := s.span()
	first, last := s.X[0], s.X[len(s.X)-1]
	row := func(y float64) int {
		return int(math.Round((high - y) / (high - low) * (seriesRows - 1)))
	}
	column := func(x float64) int {
		if last == first {
			return 0
		}
		return int(math.Round((x - first) / (last - first) * (seriesColumns - 1)))
	}
	var cells [seriesRows][seriesColumns]rune
	put := func(col, row int, mark rune) {
		if col >= 0 && col < seriesColumns && row >= 0 && row < seriesRows && cells[row][col] != 'X' {
			cells[row][col] = mark
		}
	}
	names := map[int]string{0: number(high), seriesRows - 1: number(low)}
	for _, l := range s.Levels {
		for col := range seriesColumns {
			put(col, row(l.At), '-')
		}
		names[row(l.At)] = fmt.Sprintf("%s %s", l.Name, number(l.At))
	}
	for _, x := range s.Events {
		for r := range seriesRows {
			put(column(x), r, '|')
		}
	}
	if s.Curve != nil {
		for col := range seriesColumns {
			if y := s.Curve(first + (last-first)*float64(col)/(seriesColumns-1)); !math.IsNaN(y) {
				put(col, row(y), '.')
			}
		}
	}
	for i, y := range s.Y {
		mark := 'o'
		if i < len(s.Marked) && s.Marked[i] {
			mark = 'X'
		}
		put(column(s.X[i]), row(y), mark)
	}
	var b strings.Builder
	for r := range cells {
		line := make([]rune, seriesColumns)
		for i, c := range cells[r] {
			line[i] = max(c, ' ')
		}
		fmt.Fprintf(&b, "%12.12s |%s\n", names[r], strings.TrimRight(string(line), " "))
	}
	return b.String()
}

// span is the range of everything that is drawn, widened if it is empty.
func (s Series) span() (low, high float64) {
	low, high = slices.Min(s.Y), slices.Max(s.Y)
	for _, l := range s.Levels {
		low, high = min(low, l.At), max(high, l.At)
	}
	if low == high {
		low, high = low-1, high+1
	}
	return low, high
}

func number(x float64) string { return fmt.Sprintf("%.3g", x) }
