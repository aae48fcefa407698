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

// Dimensions of a page that holds figures only, in points.
const (
	figureWidth, figureTall = 540.0, 280.0
	figureMargin, titleTall = 6.0, 16.0
)

// figures are the blocks of a page that have one.
func (p Page) figures() []Block {
	var all []Block
	for _, row := range p.Rows {
		for _, b := range row {
			if b.Figure != nil {
				all = append(all, b)
			}
		}
	}
	return all
}

func figuresHeight(figures []Block) float64 {
	return (figureTall+titleTall)*float64(len(figures)) + figureMargin
}

// SVG draws the figures of the page below one another, each with its title.
func (p Page) SVG() []byte {
	figures := p.figures()
	height := figuresHeight(figures)
	c := &svgCanvas{}
	fmt.Fprintf(c, `<svg role="img" aria-label="%s" xmlns="http://www.w3.org/2000/svg" width="%gpt" height="%gpt" viewBox="0 0 %g %g" font-family="%s" font-size="%gpx">`,
		template.HTMLEscapeString(p.Title), figureWidth, height, figureWidth, height, svgFonts, labelPoints)
	fmt.Fprintf(c, `<rect width="%g" height="%g" fill="#fff"/>`, figureWidth, height)
	for i, b := range figures {
		c.height = (figureTall + titleTall) * float64(i+1)
		c.text(ink, xy{figureMargin, figureTall + titleTall/3}, false, b.Title)
		b.Figure.draw(c, figureWidth-figureMargin, figureTall)
	}
	c.WriteString("</svg>\n")
	return []byte(c.String())
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

func (c *svgCanvas) area(ink color.Color, through ...xy) {
	c.WriteString(`<polygon points="`)
	for _, p := range through {
		c.WriteString(c.at(p) + " ")
	}
	fmt.Fprintf(c, `" fill="%s"/>`, hex(ink))
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
