package sheet

import (
	"fmt"
	"html/template"
	"image/color"
	"strconv"
	"strings"
)

// svgCanvas draws a figure as SVG.
type svgCanvas struct {
	strings.Builder
	height float64
}

// svgFonts look like the font used for the layout of the figure.
const svgFonts = "Liberation Sans, Arial, Helvetica, sans-serif"

// svgFigure is the figure as an image; width and height are in points.
func svgFigure(f *Figure, title string, width, height float64) string {
	c := &svgCanvas{height: height}
	fmt.Fprintf(c, `<svg role="img" aria-label="%s" xmlns="http://www.w3.org/2000/svg" width="%gpt" height="%gpt" viewBox="0 0 %g %g" font-family="%s" font-size="%gpx">`,
		template.HTMLEscapeString(title), width, height, width, height, svgFonts, labelPoints)
	f.draw(c, width, height)
	c.WriteString("</svg>")
	return c.String()
}

func (c *svgCanvas) line(s stroke, through ...xy) {
	c.WriteString(`<polyline fill="none" points="`)
	for i, p := range through {
		if i > 0 {
			c.WriteByte(' ')
		}
		c.WriteString(c.at(p))
	}
	fmt.Fprintf(c, `" stroke="%s" stroke-width="%g"`, hex(s.color), s.width)
	if len(s.dashes) > 0 {
		list := make([]string, len(s.dashes))
		for i, d := range s.dashes {
			list[i] = strconv.FormatFloat(d, 'g', -1, 64)
		}
		fmt.Fprintf(c, ` stroke-dasharray="%s"`, strings.Join(list, ","))
	}
	c.WriteString("/>")
}

func (c *svgCanvas) glyph(s shape, ink color.Color, at xy) {
	look := fmt.Sprintf(`fill="%s"`, hex(ink))
	if s == ring || s == square {
		look = fmt.Sprintf(`fill="none" stroke="%s" stroke-width="%g"`, hex(ink), rimWidth)
	}
	x, y := short(at.X), short(c.height-at.Y)
	if s == disc || s == ring {
		fmt.Fprintf(c, `<circle cx="%s" cy="%s" r="%g" %s/>`, x, y, glyphRadius, look)
		return
	}
	fmt.Fprintf(c, `<rect x="%s" y="%s" width="%g" height="%g" %s/>`, short(at.X-glyphRadius), short(c.height-at.Y-glyphRadius), 2*glyphRadius, 2*glyphRadius, look)
}

func (c *svgCanvas) box(low, high xy) {
	fmt.Fprintf(c, `<rect x="%s" y="%s" width="%s" height="%s" fill="#fff"/>`, short(low.X), short(c.height-high.Y), short(high.X-low.X), short(high.Y-low.Y))
}

func (c *svgCanvas) text(ink color.Color, at xy, upright bool, words string) {
	place := fmt.Sprintf(`x="%s" y="%s"`, short(at.X), short(c.height-at.Y))
	if upright {
		place = fmt.Sprintf(`transform="translate(%s %s) rotate(-90)"`, short(at.X), short(c.height-at.Y))
	}
	fmt.Fprintf(c, `<text %s fill="%s">%s</text>`, place, hex(ink), template.HTMLEscapeString(words))
}

func (c *svgCanvas) at(p xy) string { return short(p.X) + "," + short(c.height-p.Y) }

// short is a length to a hundredth of a point.
func short(v float64) string {
	return strings.TrimSuffix(strings.TrimRight(strconv.FormatFloat(v, 'f', 2, 64), "0"), ".")
}

func hex(c color.Color) string {
	r, g, b := bytesOf(c)
	return fmt.Sprintf("#%02x%02x%02x", r, g, b)
}
