package sheet

import (
	"image/color"

	"codeberg.org/go-pdf/fpdf"
)

// pdfCanvas draws figures on a page of a PDF, as lines and text. It uses the page's own
// fonts; the font of the figures is one of them.
type pdfCanvas struct {
	pdf        *fpdf.Fpdf
	left, foot float64 // the figure's lower left corner, measured from the page's upper left corner
}

func (c *pdfCanvas) at(p xy) (x, y float64) { return c.left + p.X, c.foot - p.Y }

func (c *pdfCanvas) line(s stroke, through ...xy) {
	c.pdf.SetDrawColor(bytesOf(s.color))
	c.pdf.SetLineWidth(s.width)
	c.pdf.SetDashPattern(s.dashes, 0)
	for i, p := range through {
		if x, y := c.at(p); i == 0 {
			c.pdf.MoveTo(x, y)
		} else {
			c.pdf.LineTo(x, y)
		}
	}
	c.pdf.DrawPath("D")
	c.pdf.SetDashPattern(nil, 0)
}

func (c *pdfCanvas) area(ink color.Color, through ...xy) {
	c.pdf.SetFillColor(bytesOf(ink))
	points := make([]fpdf.PointType, len(through))
	for i, p := range through {
		points[i].X, points[i].Y = c.at(p)
	}
	c.pdf.Polygon(points, "F")
}

func (c *pdfCanvas) glyph(s shape, ink color.Color, at xy) {
	c.pdf.SetDrawColor(bytesOf(ink))
	c.pdf.SetFillColor(bytesOf(ink))
	c.pdf.SetLineWidth(rimWidth)
	x, y := c.at(at)
	style := "F"
	if s == ring || s == square {
		style = "D"
	}
	if s == disc || s == ring {
		c.pdf.Circle(x, y, glyphRadius, style)
		return
	}
	c.pdf.Rect(x-glyphRadius, y-glyphRadius, 2*glyphRadius, 2*glyphRadius, style)
}

func (c *pdfCanvas) box(low, high xy) {
	c.pdf.SetFillColor(bytesOf(color.White))
	x, y := c.at(xy{low.X, high.Y})
	c.pdf.Rect(x, y, high.X-low.X, high.Y-low.Y, "F")
}

func (c *pdfCanvas) text(ink color.Color, at xy, upright bool, words string) {
	c.pdf.SetFont(pdfFont, "", labelPoints)
	c.pdf.SetTextColor(bytesOf(ink))
	x, y := c.at(at)
	if upright {
		c.pdf.TransformBegin()
		c.pdf.TransformRotate(90, x, y)
		defer c.pdf.TransformEnd()
	}
	c.pdf.Text(x, y, words)
}

func bytesOf(c color.Color) (r, g, b int) {
	r32, g32, b32, _ := c.RGBA()
	return int(r32 >> 8), int(g32 >> 8), int(b32 >> 8)
}
