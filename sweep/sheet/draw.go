package sheet

import (
	"image/color"
	"math"
	"slices"
	"strconv"
)

// Inks. Shape and dashes show the same distinctions without colour.
var (
	ink       = color.RGBA{0x1c, 0x1c, 0x1c, 0xff}
	pale      = color.RGBA{0x5c, 0x5c, 0x5c, 0xff}
	faint     = color.RGBA{0xa0, 0xa0, 0xa0, 0xff}
	hair      = color.RGBA{0xdd, 0xdd, 0xdd, 0xff}
	firstRun  = color.RGBA{0x17, 0x3f, 0x73, 0xff}
	secondRun = color.RGBA{0xb0, 0x56, 0x00, 0xff}
)

// Dimensions in a figure, points.
const (
	rowHeight  = 9.5 // of a line of text
	baseline   = 2.3 // of the text, above the foot of its row
	tickLength = 3.0
	margin     = 2.0
)

// drawing is a figure being drawn: the position of its data on the canvas, and their scale.
type drawing struct {
	*Figure
	canvas
	low, high      xy // corners of the data on the canvas
	x0, x1, y0, y1 float64
}

// draw draws the figure: the names of the marks above, the axes with their contents, the
// legend below.
func (f *Figure) draw(c canvas, width, height float64) {
	d := &drawing{Figure: f, canvas: c}
	d.x0, d.x1, d.y0, d.y1 = f.extent()
	rows := ticks(d.y0, d.y1, 5)
	widest := 0.0
	for _, t := range rows {
		widest = max(widest, widthOf(t.label))
	}
	columns := ticks(d.x0, d.x1, 10)
	if f.columns != nil {
		columns = f.columns(d.x0, d.x1)
	}
	last := 0.0
	if n := len(columns); n > 0 {
		last = widthOf(columns[n-1].label)
	}
	legend := rowHeight + margin
	d.low = xy{rowHeight + margin + widest + margin + tickLength, legend + 2*rowHeight + tickLength}
	d.high = xy{width - max(last/2, margin), height}
	above := 0.0
	if f.above != nil {
		above = 2*rowHeight + margin
	}
	placed, names := d.place()
	d.high.Y -= above + float64(names)*rowHeight + margin
	d.drawAxes(columns, rows, legend)
	d.drawData()
	d.drawMarks(placed, above)
	if f.above != nil {
		d.drawSecondAxis()
	}
	d.drawLegend(width)
}

// at is the position of a data point on the canvas.
func (d *drawing) at(p xy) xy {
	return xy{d.toX(p.X), d.low.Y + (p.Y-d.y0)/(d.y1-d.y0)*(d.high.Y-d.low.Y)}
}

func (d *drawing) toX(x float64) float64 {
	return d.low.X + (x-d.x0)/(d.x1-d.x0)*(d.high.X-d.low.X)
}

// drawAxes draws the axes below and to the left of the data, and the grid.
func (d *drawing) drawAxes(columns, rows []tick, legend float64) {
	grid, axis := stroke{color: hair, width: 0.4}, stroke{color: pale, width: 0.5}
	for _, t := range columns {
		x := d.toX(t.value)
		d.line(grid, xy{x, d.low.Y}, xy{x, d.high.Y})
		d.line(axis, xy{x, d.low.Y}, xy{x, d.low.Y - tickLength})
		d.text(ink, xy{x - widthOf(t.label)/2, legend + rowHeight + baseline}, false, t.label)
	}
	for _, t := range rows {
		y := d.at(xy{d.x0, t.value}).Y
		d.line(grid, xy{d.low.X, y}, xy{d.high.X, y})
		d.line(axis, xy{d.low.X, y}, xy{d.low.X - tickLength, y})
		d.text(ink, xy{d.low.X - tickLength - margin - widthOf(t.label), y - labelPoints/3}, false, t.label)
	}
	d.line(axis, xy{d.low.X, d.high.Y}, d.low, xy{d.high.X, d.low.Y})
	d.text(ink, xy{(d.low.X + d.high.X - widthOf(d.x)) / 2, legend + baseline}, false, d.x)
	d.text(ink, xy{rowHeight - baseline, (d.low.Y + d.high.Y - widthOf(d.y)) / 2}, true, d.y)
}

func (d *drawing) drawData() {
	for _, b := range d.bands {
		var around []xy
		for _, p := range b.low {
			around = append(around, d.at(p))
		}
		for _, p := range slices.Backward(b.high) {
			around = append(around, d.at(p))
		}
		d.area(hair, around...)
	}
	for _, l := range d.lines {
		through := make([]xy, len(l.xys))
		for i, p := range l.xys {
			through[i] = d.at(p)
		}
		d.line(l.look.style(), through...)
	}
	for _, set := range d.points {
		for i, p := range set.xys {
			if bar := set.bars[i]; bar > 0 {
				d.line(stroke{color: faint, width: 0.6}, d.at(xy{p.X, max(p.Y-bar, d.y0)}), d.at(xy{p.X, min(p.Y+bar, d.y1)}))
			}
		}
		shape, ink := set.look.style()
		for _, p := range set.xys {
			d.mark(shape, ink, d.at(p))
		}
	}
	for _, x := range d.missed {
		d.mark(cross, pale, xy{d.toX(x), d.low.Y + 2*glyphRadius})
	}
}

// mark draws a point. A cross is two lines, on every canvas.
func (d *drawing) mark(s shape, c color.Color, at xy) {
	if s != cross {
		d.glyph(s, c, at)
		return
	}
	for _, up := range []float64{-glyphRadius, glyphRadius} {
		d.line(stroke{color: c, width: 0.9}, xy{at.X - glyphRadius, at.Y - up}, xy{at.X + glyphRadius, at.Y + up})
	}
}

func (l lineLook) style() stroke {
	switch l {
	case secondLook:
		return stroke{color: secondRun, width: 1.1, dashes: []float64{5, 2.5}}
	case limitLook:
		return stroke{color: ink, width: 0.8, dashes: []float64{4, 2}}
	case middleLook:
		return stroke{color: pale, width: 0.7}
	case barLook:
		return stroke{color: firstRun, width: 1.6}
	}
	return stroke{color: firstRun, width: 1.1}
}

func (p pointLook) style() (shape, color.Color) {
	switch p {
	case secondAwayLook:
		return square, secondRun
	case secondHomeLook:
		return box, secondRun
	case awayLook:
		return ring, firstRun
	case brokenLook:
		return box, ink
	}
	return disc, firstRun
}

func (k markKind) style() stroke {
	switch k {
	case asLeft:
		return stroke{color: pale, width: 0.8, dashes: []float64{2, 2}}
	case dullEdge:
		return stroke{color: ink, width: 0.8, dashes: []float64{1, 2}}
	case midpoint:
		return stroke{color: ink, width: 0.8, dashes: []float64{6, 2, 1, 2}}
	case optimum:
		return stroke{color: ink, width: 1.2}
	}
	return stroke{color: ink, width: 0.8, dashes: []float64{5, 3}}
}

// placed is a mark with its name in a row above the plot; row 0 is the lowest. left is where
// the name begins.
type placed struct {
	mark
	row  int
	left float64
}

// place gives each name the lowest row where it touches no other.
func (d *drawing) place() (list []placed, rows int) {
	marks := slices.Clone(d.marks)
	slices.SortStableFunc(marks, func(a, b mark) int { return int(a.kind) - int(b.kind) })
	slices.Reverse(marks)   // the optimum first: it gets the lowest row
	var ends [][][2]float64 // occupied ranges, by row
	for _, m := range marks {
		width := widthOf(m.label)
		x := d.toX(m.at)
		left := min(max(x-width/2, d.low.X), d.high.X-width)
		row := 0
		for row < len(ends) && slices.ContainsFunc(ends[row], func(e [2]float64) bool {
			return left < e[1]+6 && e[0] < left+width+6
		}) {
			row++
		}
		if row == len(ends) {
			ends = append(ends, nil)
		}
		ends[row] = append(ends[row], [2]float64{left, left + width})
		list = append(list, placed{m, row, left - x})
	}
	return list, len(ends)
}

func (d *drawing) drawMarks(list []placed, above float64) {
	base := d.high.Y + above + margin
	for _, m := range list {
		x := d.toX(m.at)
		d.line(m.kind.style(), xy{x, d.low.Y}, xy{x, base + float64(m.row)*rowHeight})
	}
	for _, m := range list {
		d.write(ink, xy{d.toX(m.at) + m.left, base + float64(m.row)*rowHeight}, m.label)
	}
}

// write sets words from x on, one row high; they hide the lines behind them.
func (d *drawing) write(c color.Color, foot xy, words string) {
	d.box(xy{foot.X - 1, foot.Y}, xy{foot.X + widthOf(words) + 1, foot.Y + rowHeight})
	d.text(c, xy{foot.X, foot.Y + baseline}, false, words)
}

// drawSecondAxis draws the screw of a second run along the upper edge.
func (d *drawing) drawSecondAxis() {
	edge := stroke{color: secondRun, width: 0.5}
	d.line(edge, xy{d.low.X, d.high.Y}, d.high)
	for _, t := range ticks(d.x0-d.above.shift, d.x1-d.above.shift, 10) {
		x := d.toX(t.value + d.above.shift)
		d.line(edge, xy{x, d.high.Y}, xy{x, d.high.Y + tickLength})
		d.write(secondRun, xy{x - widthOf(t.label)/2, d.high.Y + tickLength}, t.label)
	}
	d.write(secondRun, xy{(d.low.X + d.high.X - widthOf(d.above.name)) / 2, d.high.Y + tickLength + rowHeight}, d.above.name)
}

// drawLegend names the lines and points that are present, in one row.
func (d *drawing) drawLegend(width float64) {
	const sample, gap = 16.0, 4.0
	type entry struct {
		name string
		show func(x, y float64)
	}
	var entries []entry
	for _, set := range d.points {
		if len(set.xys) > 0 {
			shape, ink := set.look.style()
			entries = append(entries, entry{set.name, func(x, y float64) { d.mark(shape, ink, xy{x + sample/2, y}) }})
		}
	}
	for _, l := range d.lines {
		if l.name != "" {
			entries = append(entries, entry{l.name, func(x, y float64) { d.line(l.look.style(), xy{x, y}, xy{x + sample, y}) }})
		}
	}
	for _, b := range d.bands {
		entries = append(entries, entry{b.name, func(x, y float64) {
			d.area(hair, xy{x, y - 3}, xy{x + sample, y - 3}, xy{x + sample, y + 3}, xy{x, y + 3})
		}})
	}
	if len(d.missed) > 0 {
		entries = append(entries, entry{"missed", func(x, y float64) { d.mark(cross, pale, xy{x + sample/2, y}) }})
	}
	taken := 0.0
	for _, e := range entries {
		taken += sample + gap + widthOf(e.name)
	}
	after := 24.0
	if between := float64(len(entries) - 1); between > 0 {
		after = min(after, (width-taken)/between)
		taken += after * between
	}
	x := (width - taken) / 2
	for _, e := range entries {
		e.show(x, rowHeight/2)
		d.text(ink, xy{x + sample + gap, baseline}, false, e.name)
		x += sample + gap + widthOf(e.name) + after
	}
}

// tick is a labelled value of an axis.
type tick struct {
	value float64
	label string
}

// ticks are about the given number of values, at round numbers.
func ticks(low, high float64, about int) []tick {
	step := stepOf(high-low, about)
	decimals := 0
	for scaled := step; decimals < 9 && math.Abs(scaled-math.Round(scaled)) > 1e-6; scaled *= 10 {
		decimals++
	}
	var list []tick
	for i := int(low/step) - 1; float64(i)*step <= high; i++ {
		if at := float64(i) * step; at >= low {
			list = append(list, tick{at, strconv.FormatFloat(at, 'f', decimals, 64)})
		}
	}
	return list
}
