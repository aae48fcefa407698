package sheet

import (
	"bytes"
	"image/color"
	"image/png"
	"slices"
	"strings"

	"codeberg.org/go-pdf/fpdf"

	"headtrue/sweep/figures"
)

// lay sets the whole page, with figures of the given height, and returns the height used. A
// trial leaves the figures' room empty.
func (d *pdfPage) lay(p Page, figureHeight float64, forGood bool) float64 {
	y := pdfMargin
	if p.Letterhead != nil {
		y += d.letterhead(*p.Letterhead, y, forGood)
	}
	d.font("B", 15, ink)
	d.Text(pdfMargin, y+13*d.scale, p.Title)
	d.font("", 9, pale)
	d.Text(pdfMargin+pdfInner-d.GetStringWidth(p.Run), y+13*d.scale, p.Run)
	y += 19 * d.scale
	d.rule(pdfMargin, y, pdfInner, 1.2, ink)
	y += 4
	y += d.facts(p.Facts, y) + 6
	y += d.lead(p.Lead, p.Stamp, y) + 8
	for _, row := range p.Rows {
		y += d.row(row, y, figureHeight, forGood) + 7
	}
	if p.Sign != nil {
		y += d.sign(p.Sign, y)
	}
	if p.Small.Name != "" {
		y += d.write(pdfMargin, y, pdfInner, "B", smallSize, pale, p.Small.Name)
	}
	y += d.write(pdfMargin, y, pdfInner, "", smallSize, pale, p.Small.Value)
	return y - pdfMargin
}

// facts sets the heading in three columns, or in two if the letters are large.
func (d *pdfPage) facts(facts []Fact, top float64) float64 {
	factColumns := 3
	if d.scale > 1 {
		factColumns = 2
	}
	line := textSize * d.scale * 1.42
	column := (pdfInner - float64(factColumns-1)*pdfGutter) / float64(factColumns)
	name, y := 50*d.scale, top+textSize*d.scale
	for row := range slices.Chunk(facts, factColumns) {
		tallest := 1
		for i, f := range row {
			x := pdfMargin + float64(i)*(column+pdfGutter)
			d.font("", textSize, pale)
			d.Text(x, y, f.Name)
			d.font("", textSize, ink)
			lines := d.SplitText(f.Value, column-name)
			for n, text := range lines {
				d.Text(x+name, y+line*float64(n), d.fit(strings.TrimSpace(text), column-name))
			}
			tallest = max(tallest, len(lines))
		}
		y += line * float64(tallest)
	}
	return y - top - textSize*d.scale
}

// letterhead sets name and address to the left, and the logo to the right.
func (d *pdfPage) letterhead(l Letterhead, top float64, forGood bool) float64 {
	const logoWidth, logoHeight = 150, 44
	y := top
	if l.Name != "" {
		y += d.write(pdfMargin, y, pdfInner-logoWidth, "B", 11, ink, l.Name)
	}
	for _, line := range l.Address {
		y += d.write(pdfMargin, y, pdfInner-logoWidth, "", textSize, pale, line)
	}
	if len(l.Logo) > 0 {
		size, err := png.DecodeConfig(bytes.NewReader(l.Logo))
		if err == nil && forGood {
			options := fpdf.ImageOptions{ImageType: "PNG"}
			d.RegisterImageOptionsReader("logo", options, bytes.NewReader(l.Logo))
			shrink := min(logoWidth/float64(size.Width), logoHeight/float64(size.Height))
			width, height := float64(size.Width)*shrink, float64(size.Height)*shrink
			d.ImageOptions("logo", pdfMargin+pdfInner-width, top, width, height, false, options, 0, "")
		}
		y = max(y, top+logoHeight)
	}
	if y == top {
		return 0
	}
	return y - top + 10
}

// sign sets lines to write on by hand.
func (d *pdfPage) sign(names []string, top float64) float64 {
	width := (pdfInner - pdfGutter*float64(len(names)-1)) / float64(len(names))
	foot := top + 30
	for i, name := range names {
		x := pdfMargin + float64(i)*(width+pdfGutter)
		d.rule(x, foot, width, 0.6, ink)
		d.write(x, foot+2, width, "", smallSize+0.4, pale, name)
	}
	return foot - top + 8 + smallSize*d.scale*leading
}

// stampInks are the colours of the stamps; the words say the same.
var stampInks = []struct {
	begins figures.Stamp
	ink    color.RGBA
}{{figures.Pass, color.RGBA{0x14, 0x6b, 0x2e, 0xff}}, {figures.InDoubt, color.RGBA{0x8a, 0x52, 0x00, 0xff}}, {figures.NotSet, color.RGBA{0xa3, 0x1d, 0x1d, 0xff}}}

func inkOf(s figures.Stamp) color.Color {
	for _, i := range stampInks {
		if strings.HasPrefix(string(s), string(i.begins)) {
			return i.ink
		}
	}
	return firstRun
}

// stamp sets the result in a frame whose right upper corner is given, and returns its width and
// height.
func (d *pdfPage) stamp(s figures.Stamp, right, top float64) (width, height float64) {
	if s == "" {
		return 0, 0
	}
	const size = 13
	d.font("B", size, inkOf(s))
	width, height = d.GetStringWidth(string(s))+16, size*d.scale*1.6
	d.SetDrawColor(bytesOf(inkOf(s)))
	d.SetLineWidth(1.6)
	d.Rect(right-width, top, width, height, "D")
	d.Text(right-width+8, top+height/2+size*d.scale*0.36, string(s))
	return width, height
}

// lead is the verdict, beside a thick line, with the stamp to its right.
func (d *pdfPage) lead(sentences []string, stamp figures.Stamp, top float64) float64 {
	taken, tall := d.stamp(stamp, pdfMargin+pdfInner, top+1)
	if taken > 0 {
		taken += 10
	}
	x, width, y := pdfMargin+9, pdfInner-9-taken, top+1
	for i, s := range sentences {
		if i == 0 {
			y += d.write(x, y, width, "B", 9.5, ink, s) + 1
			continue
		}
		y += d.write(x, y, width, "", textSize, ink, s)
	}
	y = max(y, top+tall)
	d.SetFillColor(bytesOf(firstRun))
	d.Rect(pdfMargin, top, 3, y-top+1, "F")
	return y - top + 1
}

// row sets blocks beside each other. A block with a table of few columns is narrower than a
// block with many.
func (d *pdfPage) row(blocks []Block, top, figureHeight float64, forGood bool) float64 {
	widths := []float64{pdfInner}
	if len(blocks) == 2 {
		first := (pdfInner - pdfGutter) / 2
		if uneven(blocks) {
			first = (pdfInner - pdfGutter) * 0.68
		}
		widths = []float64{first, pdfInner - pdfGutter - first}
	}
	x, height := pdfMargin, 0.0
	for i, b := range blocks {
		height = max(height, d.block(b, x, top, widths[i], figureHeight, forGood))
		x += widths[i] + pdfGutter
	}
	return height
}

func (d *pdfPage) block(b Block, x, top, width, figureHeight float64, forGood bool) float64 {
	y := top
	d.font("B", textSize+0.6, firstRun)
	d.Text(x, y+(textSize+0.6)*d.scale, b.Title)
	y += (textSize + 0.6) * d.scale * 1.3
	d.rule(x, y, width, 0.5, firstRun)
	y += 3
	if b.Table != nil {
		y += d.table(*b.Table, x, y, width)
	}
	for _, item := range b.Items {
		d.font("", textSize, pale)
		d.Text(x, y+textSize*d.scale*0.95, "–")
		y += d.write(x+8, y, width-8, "", textSize, ink, item) + 1
	}
	note := b.Note
	if b.Figure != nil {
		if forGood {
			b.Figure.draw(&pdfCanvas{d.Fpdf, x, y + figureHeight}, width, figureHeight)
		}
		y += figureHeight
		note = b.Figure.note
	}
	if note != "" {
		y += 1
		y += d.write(x, y, width, "", smallSize+0.4, pale, note)
	}
	return y - top
}

// table aligns the first column to the left and the others to the right, each as wide as its
// share.
func (d *pdfPage) table(t Table, x, top, width float64) float64 {
	line := textSize * d.scale * 1.38
	first := d.firstColumn(t, width)
	other := (width - first) / float64(max(1, len(t.Head)-1))
	y := top + textSize*d.scale
	set := func(cells []string) {
		for i, cell := range cells {
			if i == 0 {
				d.Text(x, y, d.fit(cell, first-4))
				continue
			}
			cell = d.fit(cell, other-4)
			d.Text(x+first+other*float64(i)-d.GetStringWidth(cell), y, cell)
		}
		y += line
	}
	d.font("", textSize-0.4, pale)
	set(t.Head)
	for _, row := range t.Rows {
		d.rule(x, y-line+textSize*d.scale*0.32, width, 0.3, hair)
		d.font("", textSize, ink)
		set(row)
	}
	return y - top - textSize*d.scale + 3
}

// firstColumn is the width of the first column: that of its longest name, if the others keep half
// of the table.
func (d *pdfPage) firstColumn(t Table, width float64) float64 {
	d.font("", textSize, ink)
	widest := 0.0
	for _, row := range t.Rows {
		widest = max(widest, d.GetStringWidth(row[0]))
	}
	return min(widest+6, width/2)
}
