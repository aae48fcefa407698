package sheet

import (
	"image"
	"image/color"
	"math"

	"codeberg.org/go-pdf/fpdf"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
)

// pdfCanvas draws figures on a page of a PDF, as lines and text. Its origin is a
// place on the page, with y going up; the page's own fonts are used, of which
// the figures' are one.
type pdfCanvas struct {
	pdf    *fpdf.Fpdf
	height float64 // of the page
	state  pdfState
	saved  []pdfState
}

// pdfState is what Push saves: a figure's x becomes a*x + c*y + e on the page,
// its y becomes b*x + d*y + f from the page's lower edge.
type pdfState struct {
	a, b, c, d, e, f float64
	width            vg.Length
	dashes           []vg.Length
	offset           vg.Length
	color            color.Color
}

func newPDFCanvas(pdf *fpdf.Fpdf, height, left, bottom float64) *pdfCanvas {
	return &pdfCanvas{pdf: pdf, height: height, state: pdfState{a: 1, d: 1, e: left, f: bottom, width: 1, color: color.Black}}
}

func (c *pdfCanvas) SetLineWidth(w vg.Length)               { c.state.width = w }
func (c *pdfCanvas) SetLineDash(d []vg.Length, o vg.Length) { c.state.dashes, c.state.offset = d, o }
func (c *pdfCanvas) Push()                                  { c.saved = append(c.saved, c.state) }
func (c *pdfCanvas) Pop() {
	last := len(c.saved) - 1
	c.state, c.saved = c.saved[last], c.saved[:last]
}

func (c *pdfCanvas) SetColor(to color.Color) {
	if to == nil {
		to = color.Black
	}
	c.state.color = to
}

func (c *pdfCanvas) Rotate(radians float64) {
	sin, cos := math.Sincos(radians)
	s := &c.state
	s.a, s.b, s.c, s.d = s.a*cos+s.c*sin, s.b*cos+s.d*sin, s.c*cos-s.a*sin, s.d*cos-s.b*sin
}

func (c *pdfCanvas) Translate(by vg.Point) {
	s := &c.state
	s.e, s.f = s.a*float64(by.X)+s.c*float64(by.Y)+s.e, s.b*float64(by.X)+s.d*float64(by.Y)+s.f
}

func (c *pdfCanvas) Scale(x, y float64) {
	s := &c.state
	s.a, s.b, s.c, s.d = s.a*x, s.b*x, s.c*y, s.d*y
}

// at is a point as the page counts, from its upper left corner.
func (c *pdfCanvas) at(p vg.Point) (x, y float64) {
	s, px, py := c.state, float64(p.X), float64(p.Y)
	return s.a*px + s.c*py + s.e, c.height - (s.b*px + s.d*py + s.f)
}

func (c *pdfCanvas) Stroke(path vg.Path) {
	if c.state.width <= 0 {
		return
	}
	dashes := make([]float64, len(c.state.dashes))
	for i, d := range c.state.dashes {
		dashes[i] = float64(d)
	}
	c.pdf.SetDashPattern(dashes, float64(c.state.offset))
	c.pdf.SetLineWidth(float64(c.state.width))
	c.trace(path)
	c.pdf.DrawPath("D")
	c.pdf.SetDashPattern(nil, 0)
}

func (c *pdfCanvas) Fill(path vg.Path) {
	c.trace(path)
	c.pdf.DrawPath("F")
}

// arcParts is of how many straight lines an arc is made: the figures' arcs are
// the rims of small circles.
const arcParts = 24

func (c *pdfCanvas) trace(path vg.Path) {
	r, g, b := bytesOf(c.state.color)
	c.pdf.SetDrawColor(r, g, b)
	c.pdf.SetFillColor(r, g, b)
	for i, part := range path {
		switch part.Type {
		case vg.MoveComp:
			c.pdf.MoveTo(c.at(part.Pos))
		case vg.LineComp:
			c.pdf.LineTo(c.at(part.Pos))
		case vg.ArcComp:
			for k := range arcParts + 1 {
				sin, cos := math.Sincos(part.Start + part.Angle*float64(k)/arcParts)
				x, y := c.at(vg.Point{X: part.Pos.X + part.Radius*vg.Length(cos), Y: part.Pos.Y + part.Radius*vg.Length(sin)})
				if i == 0 && k == 0 {
					c.pdf.MoveTo(x, y)
				} else {
					c.pdf.LineTo(x, y)
				}
			}
		case vg.CurveComp:
			control := part.Control
			if len(control) == 1 {
				control = []vg.Point{control[0], control[0]}
			}
			x0, y0 := c.at(control[0])
			x1, y1 := c.at(control[1])
			x, y := c.at(part.Pos)
			c.pdf.CurveBezierCubicTo(x0, y0, x1, y1, x, y)
		case vg.CloseComp:
			c.pdf.ClosePath()
		}
	}
}

func bytesOf(c color.Color) (r, g, b int) {
	r32, g32, b32, _ := c.RGBA()
	return int(r32 >> 8), int(g32 >> 8), int(b32 >> 8)
}

func (c *pdfCanvas) FillString(face font.Face, at vg.Point, text string) {
	c.Push()
	defer c.Pop()
	c.Translate(at)
	s := c.state
	c.pdf.SetFont(pdfFont, "", float64(face.Font.Size))
	c.pdf.SetTextColor(bytesOf(s.color))
	c.pdf.TransformBegin()
	c.pdf.Transform(fpdf.TransformMatrix{A: s.a, B: s.b, C: s.c, D: s.d, E: s.e, F: s.f})
	c.pdf.Text(0, c.height, text)
	c.pdf.TransformEnd()
}

// DrawImage belongs to a canvas; no figure has an image.
func (c *pdfCanvas) DrawImage(vg.Rectangle, image.Image) {}
