package sheet

import (
	"image/color"
	"math"
	"slices"
	"strconv"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Inks. What they tell apart is told by shape and dashes, too.
var (
	ink       = color.RGBA{0x1c, 0x1c, 0x1c, 0xff}
	pale      = color.RGBA{0x5c, 0x5c, 0x5c, 0xff}
	faint     = color.RGBA{0xa0, 0xa0, 0xa0, 0xff}
	hair      = color.RGBA{0xdd, 0xdd, 0xdd, 0xff}
	firstRun  = color.RGBA{0x17, 0x3f, 0x73, 0xff}
	secondRun = color.RGBA{0xb0, 0x56, 0x00, 0xff}
)

const (
	labelPoints = 7 // size of all text in a figure
	rowHeight   = vg.Length(9.5)
)

func words(c color.Color) text.Style {
	f := font.From(plot.DefaultFont, labelPoints)
	f.Typeface, f.Variant = "Liberation", "Sans"
	return text.Style{Color: c, Font: f, Handler: plot.DefaultTextHandler}
}

// draw draws the figure: names of the places above, the plot, the legend below.
func (f *Figure) draw(c draw.Canvas) {
	p := f.plot()
	x0, x1 := p.X.Min, p.X.Max
	legend := draw.Crop(c, 0, 0, 0, rowHeight-(c.Max.Y-c.Min.Y))
	above := vg.Length(0)
	if f.above != nil {
		above = 2*rowHeight + 2
	}
	body := draw.Crop(c, 0, 0, rowHeight+2, 0)
	placed, rows := f.place(p, p.DataCanvas(body))
	body = draw.Crop(body, 0, 0, 0, -above-vg.Length(rows)*rowHeight-2)
	p.Draw(body)
	data := p.DataCanvas(body)
	f.drawMarks(data, p, placed, above)
	if f.above != nil {
		f.drawSecondAxis(data, p, x0-f.above.shift, x1-f.above.shift)
	}
	f.drawLegend(legend)
}

// plot is axes, grid, curves and places.
func (f *Figure) plot() *plot.Plot {
	p := plot.New()
	p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = f.extent()
	p.X.Label.Text, p.Y.Label.Text = f.x, f.y
	for _, a := range []*plot.Axis{&p.X, &p.Y} {
		a.Label.TextStyle.Font = words(ink).Font
		a.Label.Padding = 1
		a.Tick.Label.Font = words(ink).Font
		a.Tick.Length = 3
		a.Padding = 0
		a.Color, a.Tick.Color = pale, pale
	}
	p.X.Tick.Marker, p.Y.Tick.Marker = ticks(10), ticks(5)
	grid := plotter.NewGrid()
	grid.Horizontal = draw.LineStyle{Color: hair, Width: 0.4}
	grid.Vertical = grid.Horizontal
	p.Add(grid)
	for _, l := range f.lines {
		p.Add(&plotter.Line{XYs: l.xys, LineStyle: l.style()})
	}
	for _, set := range f.points {
		p.Add(&plotter.YErrorBars{XYs: set.xys, YErrors: set.sds, LineStyle: draw.LineStyle{Color: faint, Width: 0.6}})
		p.Add(&plotter.Scatter{XYs: set.xys, GlyphStyle: set.style()})
	}
	// Adding widens the axes to the data alone; the places are to be seen, too.
	p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = f.extent()
	return p
}

func (l line) style() draw.LineStyle {
	if l.second {
		return draw.LineStyle{Color: secondRun, Width: 1.1, Dashes: []vg.Length{5, 2.5}}
	}
	return draw.LineStyle{Color: firstRun, Width: 1.1}
}

func (s points) style() draw.GlyphStyle {
	style := draw.GlyphStyle{Color: firstRun, Radius: 2, Shape: draw.CircleGlyph{}}
	switch {
	case s.second && s.away:
		style.Color, style.Shape = secondRun, draw.SquareGlyph{}
	case s.second:
		style.Color, style.Shape = secondRun, draw.BoxGlyph{}
	case s.away:
		style.Shape = draw.RingGlyph{}
	}
	return style
}

func (k markKind) style() draw.LineStyle {
	switch k {
	case dullEdge:
		return draw.LineStyle{Color: ink, Width: 0.8, Dashes: []vg.Length{1, 2}}
	case midpoint:
		return draw.LineStyle{Color: ink, Width: 0.8, Dashes: []vg.Length{6, 2, 1, 2}}
	case optimum:
		return draw.LineStyle{Color: ink, Width: 1.2}
	}
	return draw.LineStyle{Color: ink, Width: 0.8, Dashes: []vg.Length{5, 3}}
}

// placed is a mark whose name stands in a row above the plot, the lowest being
// 0, from some way left of the mark on.
type placed struct {
	mark
	row  int
	left vg.Length
}

// place gives each name the lowest row where it touches no other.
func (f *Figure) place(p *plot.Plot, data draw.Canvas) (list []placed, rows int) {
	toX, _ := p.Transforms(&data)
	marks := slices.Clone(f.marks)
	slices.SortStableFunc(marks, func(a, b mark) int { return int(a.kind) - int(b.kind) })
	slices.Reverse(marks) // the optimum first: it stands lowest
	style := words(ink)
	var ends [][][2]vg.Length // by row, what is taken
	for _, m := range marks {
		width := style.Width(m.label)
		x := toX(m.deg)
		left := min(max(x-width/2, data.Min.X), data.Max.X-width)
		row := 0
		for row < len(ends) && slices.ContainsFunc(ends[row], func(e [2]vg.Length) bool {
			return left < e[1]+6 && e[0] < left+width+6
		}) {
			row++
		}
		if row == len(ends) {
			ends = append(ends, nil)
		}
		ends[row] = append(ends[row], [2]vg.Length{left, left + width})
		list = append(list, placed{m, row, left - x})
	}
	return list, len(ends)
}

func (f *Figure) drawMarks(data draw.Canvas, p *plot.Plot, list []placed, above vg.Length) {
	toX, _ := p.Transforms(&data)
	style := words(ink)
	base := data.Max.Y + above + 2
	for _, m := range list {
		x := toX(m.deg)
		data.StrokeLine2(m.kind.style(), x, data.Min.Y, x, base+vg.Length(m.row)*rowHeight)
	}
	for _, m := range list {
		write(data, style, toX(m.deg)+m.left, base+vg.Length(m.row)*rowHeight, m.label)
	}
}

// write sets words from x on, a row high; they hide the lines that pass them.
func write(c draw.Canvas, style text.Style, x, y vg.Length, words string) {
	right := x + style.Width(words) + 1
	c.FillPolygon(color.White, []vg.Point{{X: x - 1, Y: y}, {X: right, Y: y}, {X: right, Y: y + rowHeight}, {X: x - 1, Y: y + rowHeight}})
	c.FillText(style, vg.Point{X: x, Y: y + 2}, words)
}

// drawSecondAxis draws the screw of a second run along the upper edge.
func (f *Figure) drawSecondAxis(data draw.Canvas, p *plot.Plot, x0, x1 float64) {
	toX, _ := p.Transforms(&data)
	style := words(secondRun)
	edge := draw.LineStyle{Color: secondRun, Width: 0.5}
	data.StrokeLine2(edge, data.Min.X, data.Max.Y, data.Max.X, data.Max.Y)
	for _, t := range ticks(10).Ticks(x0, x1) {
		x := toX(t.Value + f.above.shift)
		data.StrokeLine2(edge, x, data.Max.Y, x, data.Max.Y+3)
		write(data, style, x-style.Width(t.Label)/2, data.Max.Y+3, t.Label)
	}
	write(data, style, (data.Min.X+data.Max.X-style.Width(f.above.name))/2, data.Max.Y+3+rowHeight, f.above.name)
}

// drawLegend names lines and places in one row, those that are there.
func (f *Figure) drawLegend(c draw.Canvas) {
	style := words(ink)
	const sample, gap = vg.Length(16), vg.Length(4)
	after := vg.Length(24)
	type entry struct {
		name string
		show func(x, y vg.Length)
	}
	var entries []entry
	for _, set := range f.points {
		if len(set.xys) > 0 {
			entries = append(entries, entry{set.name, func(x, y vg.Length) {
				c.DrawGlyphNoClip(set.style(), vg.Point{X: x + sample/2, Y: y})
			}})
		}
	}
	for _, l := range f.lines {
		entries = append(entries, entry{l.name, func(x, y vg.Length) { c.StrokeLine2(l.style(), x, y, x+sample, y) }})
	}
	width := vg.Length(0)
	for _, e := range entries {
		width += sample + gap + style.Width(e.name)
	}
	if between := vg.Length(len(entries) - 1); between > 0 {
		after = min(after, (c.Max.X-c.Min.X-width)/between)
		width += after * between
	}
	x, y := (c.Min.X+c.Max.X-width)/2, c.Min.Y+rowHeight/2
	for _, e := range entries {
		e.show(x, y)
		c.FillText(style, vg.Point{X: x + sample + gap, Y: c.Min.Y + 2.5}, e.name)
		x += sample + gap + style.Width(e.name) + after
	}
}

// ticks sets about so many ticks at round numbers.
type ticks int

func (n ticks) Ticks(low, high float64) []plot.Tick {
	step := stepOf(high-low, int(n))
	decimals := max(0, int(-math.Floor(math.Log10(step))))
	var list []plot.Tick
	for i := int(low/step) - 1; float64(i)*step <= high; i++ {
		if at := float64(i) * step; at >= low {
			list = append(list, plot.Tick{Value: at, Label: strconv.FormatFloat(at, 'f', decimals, 64)})
		}
	}
	return list
}
