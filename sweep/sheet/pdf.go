package sheet

import (
	"bytes"
	"image/color"
	"strings"
	"time"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"codeberg.org/go-pdf/fpdf"
)

// Dimensions of the A4 page and its parts, in points.
const (
	pdfFont                 = "sans"
	pdfWidth, pdfHeight     = 595.28, 841.89
	pdfMargin               = 34.0
	pdfInner                = pdfWidth - 2*pdfMargin
	pdfInnerHeight          = pdfHeight - 2*pdfMargin
	pdfGutter               = 18.0
	textSize, smallSize     = 7.6, 6.2
	leastFigure, mostFigure = 128.0, 280.0
	figureStep              = 2.0
	leastScale              = 0.55
	largeScale              = 1.3  // of a page in larger letters
	leading                 = 1.26 // ratio of line height to letter size
)

// PDF draws the page on one sheet of A4, with its fonts embedded.
func (p Page) PDF() ([]byte, error) { return PDF(p) }

// PDF draws each page on one sheet of A4. Figures take the room that the words leave; if that
// is too little, all letters become smaller.
func PDF(pages ...Page) ([]byte, error) {
	d := newPDF(fpdf.New("P", "pt", "A4", ""))
	for i, p := range pages {
		if i == 0 {
			d.describe(p.Title+" "+p.Run, p.At)
		}
		scale, figures := p.fitted()
		d.scale = scale
		d.AddPage()
		d.lay(p, figures, true)
	}
	return d.bytes()
}

// fitted returns the scale of the letters and the height of the figures with which the page fills
// its sheet.
func (p Page) fitted() (scale, figures float64) {
	d := newPDF(fpdf.New("P", "pt", "A4", ""))
	if p.Large {
		d.scale = largeScale
	}
	d.AddPage()
	for d.lay(p, leastFigure, false) > pdfInnerHeight && d.scale > leastScale {
		d.scale *= 0.97
	}
	figures = leastFigure
	for figures < mostFigure && d.lay(p, figures+figureStep, false) <= pdfInnerHeight {
		figures += figureStep
	}
	return d.scale, figures
}

// pdfPage is a page being drawn.
type pdfPage struct {
	*fpdf.Fpdf
	scale float64 // scale of all letters
}

func newPDF(f *fpdf.Fpdf) *pdfPage {
	f.AddUTF8FontFromBytes(pdfFont, "", liberationsansregular.TTF)
	f.AddUTF8FontFromBytes(pdfFont, "B", liberationsansbold.TTF)
	f.SetAutoPageBreak(false, 0)
	f.SetMargins(0, 0, 0)
	f.SetCellMargin(0)
	return &pdfPage{f, 1}
}

// describe sets the properties of the document. Its times are those of the run, so that the same
// page gives the same bytes.
func (d *pdfPage) describe(title string, at time.Time) {
	d.SetTitle(title, true)
	d.SetProducer("headtrue", true)
	d.SetLang("en")
	d.SetCreationDate(at)
	d.SetModificationDate(at)
	d.SetCatalogSort(true)
}

func (d *pdfPage) bytes() ([]byte, error) {
	var out bytes.Buffer
	err := d.Output(&out)
	return out.Bytes(), err
}

func (d *pdfPage) font(style string, size float64, c color.Color) {
	d.SetFont(pdfFont, style, size*d.scale)
	d.SetTextColor(bytesOf(c))
}

// write sets a paragraph and returns its height.
func (d *pdfPage) write(x, y, width float64, style string, size float64, c color.Color, text string) float64 {
	d.font(style, size, c)
	line := size * d.scale * leading
	lines := d.SplitText(text, width)
	for i, l := range lines {
		d.Text(x, y+line*float64(i)+size*d.scale*0.95, strings.TrimRight(l, " "))
	}
	return line * float64(len(lines))
}

// fit cuts a text to a width, on one line.
func (d *pdfPage) fit(text string, width float64) string {
	if d.GetStringWidth(text) <= width {
		return text
	}
	runes := []rune(text)
	for len(runes) > 0 && d.GetStringWidth(string(runes)+"…") > width {
		runes = runes[:len(runes)-1]
	}
	return string(runes) + "…"
}

func (d *pdfPage) rule(x, y, width float64, thick float64, c color.Color) {
	d.SetDrawColor(bytesOf(c))
	d.SetLineWidth(thick)
	d.Line(x, y, x+width, y)
}
