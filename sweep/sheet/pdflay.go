package sheet

import "slices"

// lay sets the whole page, with figures of the given height, and returns the height used. A
// trial leaves the figures' room empty.
func (d *pdfPage) lay(p Page, figureHeight float64, forGood bool) float64 {
	y := pdfMargin
	d.font("B", 15, ink)
	d.Text(pdfMargin, y+13*d.scale, p.Title)
	d.font("", 9, pale)
	d.Text(pdfMargin+pdfInner-d.GetStringWidth(p.Run), y+13*d.scale, p.Run)
	y += 19 * d.scale
	d.rule(pdfMargin, y, pdfInner, 1.2, ink)
	y += 4
	y += d.facts(p.Facts, y) + 6
	y += d.lead(p.Lead, y) + 8
	for _, row := range p.Rows {
		y += d.row(row, y, figureHeight, forGood) + 7
	}
	y += d.write(pdfMargin, y, pdfInner, "B", smallSize, pale, p.Small.Name)
	y += d.write(pdfMargin, y, pdfInner, "", smallSize, pale, p.Small.Value)
	return y - pdfMargin
}

const factColumns = 3

func (d *pdfPage) facts(facts []Fact, top float64) float64 {
	line := textSize * d.scale * 1.42
	column := (pdfInner - (factColumns-1)*pdfGutter) / factColumns
	name := 50 * d.scale
	rows := (len(facts) + factColumns - 1) / factColumns
	for i, f := range facts {
		x := pdfMargin + float64(i%factColumns)*(column+pdfGutter)
		y := top + line*float64(i/factColumns) + textSize*d.scale
		d.font("", textSize, pale)
		d.Text(x, y, f.Name)
		d.font("", textSize, ink)
		d.Text(x+name, y, d.fit(f.Value, column-name))
	}
	return line * float64(rows)
}

// lead is the verdict, beside a thick line.
func (d *pdfPage) lead(sentences []string, top float64) float64 {
	x, width, y := pdfMargin+9, pdfInner-9, top+1
	for i, s := range sentences {
		if i == 0 {
			y += d.write(x, y, width, "B", 9.5, ink, s) + 1
			continue
		}
		y += d.write(x, y, width, "", textSize, ink, s)
	}
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
	first := width * t.firstShare()
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

// longNames reports whether a name in the first column needs more than a quarter of a page.
func (t Table) longNames() bool {
	return slices.ContainsFunc(t.Rows, func(row []string) bool { return len(row[0]) > 24 && len(t.Head) > 2 })
}

// firstShare is the first column's share of the width.
func (t Table) firstShare() float64 {
	switch n := len(t.Head); {
	case n > 6:
		return 0.22
	case n > 4 && !t.longNames():
		return 0.14
	case t.longNames():
		return 0.42
	}
	return 0.28
}
